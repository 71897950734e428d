"""When a message may leave: inside the shop's sending hours, in its zone, across clock changes.

Pure: no clock, no framework. Hours are wall time, the opening minute included and the closing one not.
"""

from collections.abc import Container
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import Final

_SEARCH_DAYS: Final = 400


@dataclass(frozen=True, slots=True)
class SendingHours:
    """From `opens` to before `closes` on the given weekdays (0 = Monday), not on closed days."""

    opens: time = time(8)
    closes: time = time(20)
    weekdays: frozenset[int] = frozenset(range(7))
    closed: Container[date] = frozenset()

    def __post_init__(self) -> None:
        if self.opens >= self.closes:
            raise ValueError("sending hours end after they begin, on the same day")
        if not self.weekdays or not self.weekdays <= set(range(7)):
            raise ValueError("sending needs at least one weekday from 0 (Monday) to 6 (Sunday)")

    def has_day(self, day: date) -> bool:
        return day.weekday() in self.weekdays and day not in self.closed


def may_send(moment: datetime, hours: SendingHours, zone: tzinfo) -> bool:
    """Whether an aware moment lies inside the hours."""
    local = _aware(moment).astimezone(zone)
    return hours.has_day(local.date()) and hours.opens <= local.time() < hours.closes


def next_sending_moment(after: datetime, hours: SendingHours, zone: tzinfo) -> datetime:
    """The first moment (UTC) at or after the aware `after` at which a message may leave.

    ValueError when no day within 400 days is open. An opening that the clock skips becomes the first minute
    after the gap; one that happens twice opens the first time.
    """
    if may_send(after, hours, zone):
        return after.astimezone(UTC)
    day = _aware(after).astimezone(zone).date()
    for _ in range(_SEARCH_DAYS):
        opening = _opening(day, hours, zone) if hours.has_day(day) else None
        if opening is not None and opening >= after:
            return opening
        day += timedelta(days=1)
    raise ValueError("no sending hours within 400 days")


def _opening(day: date, hours: SendingHours, zone: tzinfo) -> datetime | None:
    """The first existing moment of that day's hours; None when a clock change swallows them whole."""
    wall = datetime.combine(day, hours.opens, tzinfo=zone)
    moment = wall.astimezone(UTC)
    if moment.astimezone(zone).replace(tzinfo=None) != wall.replace(tzinfo=None):
        moment = _end_of_gap(moment, zone)
    return moment if may_send(moment, hours, zone) else None


def _end_of_gap(moment: datetime, zone: tzinfo) -> datetime:
    """The instant the clock is set forward; read with the offset before the gap, `moment` lies after it."""
    after, before = moment, moment - timedelta(hours=25)
    while after - before > timedelta(seconds=1):
        middle = before + (after - before) / 2
        same = middle.astimezone(zone).utcoffset() == moment.astimezone(zone).utcoffset()
        before, after = (before, middle) if same else (middle, after)
    return after.replace(microsecond=0)


def _aware(moment: datetime) -> datetime:
    if moment.tzinfo is None or moment.utcoffset() is None:
        raise ValueError("moment must be aware: it has no offset")
    return moment
