"""A booking as iCalendar: invitation, change, cancellation, and a shop's feed (RFC 5545, 5546, 7986).

An appointment is meant as wall time plus zone. It is written with TZID and its VTIMEZONE, or in UTC. The UID
stays for the life of a booking; SEQUENCE only grows. Nothing here knows the clock: DTSTAMP is passed in.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from enum import StrEnum
from typing import Final
from uuid import UUID

from icalendar import Alarm, Calendar, Event, vCalAddress, vDatetime

from shopwarranty.inspections.calendar_lines import (
    Literal,
    exact_hours,
    one_line,
    text,
    written,
    zone_component,
)
from shopwarranty.inspections.wall_clock import moment_by_rfc5545, zone_named

PRODUCT: Final = "-//shopwarranty//Film checks//EN"
A_DAY_BEFORE: Final = timedelta(hours=24)


class Method(StrEnum):
    """The iTIP method of a message (RFC 5546)."""

    REQUEST = "REQUEST"
    CANCEL = "CANCEL"
    PUBLISH = "PUBLISH"


class EventStatus(StrEnum):
    CONFIRMED = "CONFIRMED"
    TENTATIVE = "TENTATIVE"
    CANCELLED = "CANCELLED"


class Written(StrEnum):
    """How times are written: with their zone, or as UTC."""

    ZONED = "zoned"
    UTC = "utc"


@dataclass(frozen=True, slots=True)
class Participant:
    """Organizer or attendee: a name to show and a mail address."""

    name: str
    email: str

    def __post_init__(self) -> None:
        local, at, host = self.email.partition("@")
        if not (local and at and host) or any(ord(c) <= 32 or c in '"<>:;,\\' for c in self.email):
            raise ValueError("a participant needs one plain mail address")


@dataclass(frozen=True, slots=True)
class Appointment:
    """A booking as the calendar shows it. `starts`, `ends`: naive wall times in `zone`; `stamp` is aware.

    `uid` is random and never built from plate, VIN or mail address (RFC 7986 section 5.3).
    """

    uid: UUID
    sequence: int
    starts: datetime
    ends: datetime
    zone: str
    stamp: datetime
    summary: str
    location: str
    organizer: Participant | None
    attendee: Participant | None = None
    description: str = ""
    url: str = ""
    alarm_words: str = ""
    alarms: tuple[timedelta, ...] = (A_DAY_BEFORE,)
    status: EventStatus = EventStatus.CONFIRMED

    def __post_init__(self) -> None:
        if self.starts.tzinfo or self.ends.tzinfo:
            raise ValueError("starts and ends are wall times in the zone: naive")
        if self.ends <= self.starts:
            raise ValueError("an appointment ends after it starts (RFC 5545 section 3.8.2.2)")
        if self.stamp.tzinfo is None:
            raise ValueError("stamp must be aware: it is written in UTC (RFC 5545 section 3.8.7.2)")
        if self.sequence < 0:
            raise ValueError("sequence starts at 0 (RFC 5545 section 3.8.7.4)")
        zone_named(self.zone)


def invitation(appointment: Appointment, *, times: Written = Written.ZONED) -> bytes:
    """A REQUEST: the first invitation and every change. Needs an attendee; ValueError otherwise."""
    if appointment.attendee is None or appointment.organizer is None:
        raise ValueError("a REQUEST names its organizer and at least one attendee (RFC 5546 section 3.2.2)")
    if appointment.status is EventStatus.CANCELLED:
        raise ValueError("a cancelled appointment is told with CANCEL")
    return _written(Method.REQUEST, [appointment], times)


def cancellation(appointment: Appointment, *, times: Written = Written.ZONED) -> bytes:
    """A CANCEL of the whole event; pass what `cancelled()` gives."""
    if appointment.status is not EventStatus.CANCELLED or appointment.sequence == 0:
        raise ValueError("a CANCEL has status CANCELLED and a grown sequence (RFC 5546 section 2.1.4)")
    if appointment.organizer is None:
        raise ValueError("a CANCEL names its organizer (RFC 5546 section 3.2.5)")
    return _written(Method.CANCEL, [appointment], times)


def entry(appointment: Appointment, *, times: Written = Written.ZONED) -> bytes:
    """A PUBLISH of one appointment with its alarm, to be put into a calendar by hand: nobody has to answer.

    It has the UID of the invitation, so that a calendar that has one already keeps one entry.
    """
    shown = [replace(appointment, attendee=None)]
    return _written(_published(shown), shown, times)


def feed(
    appointments: Iterable[Appointment],
    *,
    name: str,
    zone: str,
    today: date,
    source_url: str = "",
    refresh: timedelta = timedelta(hours=12),
    times: Written = Written.ZONED,
) -> bytes:
    """A PUBLISH for a subscription: no attendee, no alarm. Keep names and plates out of the words."""
    shown = [replace(one, attendee=None, alarms=()) for one in appointments]
    method = _published(shown)
    calendar = _calendar(method)
    calendar.add("NAME", text(name))
    calendar.add("X-WR-CALNAME", text(name))
    refresh_every = exact_hours(refresh)
    refresh_every.params["VALUE"] = "DURATION"
    calendar.add("REFRESH-INTERVAL", refresh_every)
    calendar.add("X-PUBLISHED-TTL", exact_hours(refresh))
    if source_url:
        source = Literal(one_line(source_url))
        source.params["VALUE"] = "URI"
        calendar.add("SOURCE", source)
    if not shown:
        calendar.add_component(zone_component(zone, today, today))
    return written(_filled(calendar, shown, method, times))


def _published(appointments: Iterable[Appointment]) -> Method | None:
    """PUBLISH asks for an organizer in each entry (RFC 5546 section 3.2.1); a shop without a mail address has
    none, and its calendar is then a plain one without METHOD (RFC 5545 section 3.7.2)."""
    return Method.PUBLISH if all(one.organizer for one in appointments) else None


def amended(before: Appointment, after: Appointment) -> Appointment:
    """`after` with the identity of `before` and its sequence: grown when time, place or status changed.

    Sources: RFC 5546 sections 2.1.4 and 3.2.2.2 (other changes keep the sequence and get a new stamp).
    """
    rescheduled = _what_counts(before) != _what_counts(after)
    return replace(after, uid=before.uid, sequence=before.sequence + int(rescheduled))


def cancelled(appointment: Appointment, *, stamp: datetime) -> Appointment:
    """The appointment called off: same UID, sequence grown, no alarm."""
    return replace(
        appointment,
        sequence=appointment.sequence + 1,
        status=EventStatus.CANCELLED,
        stamp=stamp,
        alarms=(),
    )


def content_type(method: Method | None) -> str:
    """The media type of the part or answer (RFC 5545 section 8.1, RFC 6047); it names the same method."""
    return f"text/calendar; charset=utf-8; method={method}" if method else "text/calendar; charset=utf-8"


def _what_counts(one: Appointment) -> tuple[object, ...]:
    return (one.starts, one.ends, one.zone, one.location, one.status)


def _written(method: Method | None, appointments: list[Appointment], times: Written) -> bytes:
    return written(_filled(_calendar(method), appointments, method, times))


def _calendar(method: Method | None) -> Calendar:
    calendar = Calendar()
    calendar.add("VERSION", Literal("2.0"))
    calendar.add("PRODID", text(PRODUCT))
    if method is not None:
        calendar.add("METHOD", Literal(method))
    return calendar


def _filled(
    calendar: Calendar, appointments: list[Appointment], method: Method | None, times: Written
) -> Calendar:
    for name in sorted({one.zone for one in appointments if _has_tzid(one, times)}):
        days = [day for one in appointments if one.zone == name for day in (one.starts, one.ends)]
        calendar.add_component(zone_component(name, min(days).date(), max(days).date()))
    for one in appointments:
        calendar.add_component(_event(one, method, times))
    return calendar


def _event(one: Appointment, method: Method | None, times: Written) -> Event:
    event = Event()
    event.add("UID", Literal(str(one.uid)))
    event.add("DTSTAMP", vDatetime(one.stamp.astimezone(UTC).replace(microsecond=0)))
    event.add("DTSTART", _time(one.starts, one, times))
    event.add("DTEND", _time(one.ends, one, times))
    event.add("SEQUENCE", one.sequence)
    event.add("STATUS", Literal(one.status))
    _add_words(event, one)
    if one.organizer is not None:
        event.add("ORGANIZER", _address(one.organizer))
    if one.attendee is not None:
        event.add("ATTENDEE", _invited(one.attendee, method))
    if method is not Method.CANCEL:
        for before in one.alarms:
            event.add_component(_alarm(one, before))
    return event


def _add_words(event: Event, one: Appointment) -> None:
    event.add("SUMMARY", text(one.summary))
    if one.description:
        event.add("DESCRIPTION", text(one.description))
    if one.location:
        event.add("LOCATION", text(one.location))
    if one.url:
        event.add("URL", Literal(one_line(one.url)))


def _alarm(one: Appointment, before: timedelta) -> Alarm:
    alarm = Alarm()
    alarm.add("ACTION", Literal("DISPLAY"))
    alarm.add("DESCRIPTION", text(one.alarm_words or one.summary))
    alarm.add("TRIGGER", exact_hours(before, before=True))
    return alarm


def _address(person: Participant) -> vCalAddress:
    address = vCalAddress(f"mailto:{person.email}")
    name = one_line(person.name)
    if name:
        address.params["CN"] = name
    return address


def _invited(person: Participant, method: Method | None) -> vCalAddress:
    address = _address(person)
    if method is Method.REQUEST:
        address.params["PARTSTAT"] = "NEEDS-ACTION"
        address.params["RSVP"] = "TRUE"
    return address


def _has_tzid(one: Appointment, times: Written) -> bool:
    return times is Written.ZONED and one.zone not in ("UTC", "Etc/UTC", "Etc/GMT", "GMT")


def _time(wall: datetime, one: Appointment, times: Written) -> vDatetime:
    """Wall time with TZID, or the UTC moment RFC 5545 section 3.3.5 reads from it."""
    if not _has_tzid(one, times):
        return vDatetime(moment_by_rfc5545(wall, zone_named(one.zone)))
    value = vDatetime(wall)
    value.params["TZID"] = one.zone
    return value
