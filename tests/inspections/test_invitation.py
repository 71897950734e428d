"""Invitations, changes, cancellations and feeds, rule by rule of RFC 5545, 5546 and 7986."""

import re
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

import icalendar
import pytest

from shopwarranty.inspections.invitation import (
    Appointment,
    EventStatus,
    Method,
    Participant,
    Written,
    amended,
    cancellation,
    cancelled,
    content_type,
    feed,
    invitation,
)
from shopwarranty.inspections.wall_clock import ZoneUnknown
from tests.inspections.strict_calendar import Block, read, unescape, unfold, when

STAMP = datetime(2026, 10, 24, 15, 0, tzinfo=UTC)
BOTH = pytest.mark.parametrize("times", list(Written))


def wall(words: str) -> datetime:
    return datetime.fromisoformat(words)


BOOKED = Appointment(
    uid=UUID("07eb32fb-1b8f-493c-87a2-f979732b0c23"),
    sequence=0,
    starts=wall("2026-11-07T10:00"),
    ends=wall("2026-11-07T10:30"),
    zone="America/New_York",
    stamp=STAMP,
    summary="Two-week edge check",
    location="1 Test Street, Springfield",
    organizer=Participant("Demo Film Shop", "desk@shop.example"),
    attendee=Participant("Demo Owner", "owner@example.com"),
    alarm_words="Edge check tomorrow",
)
CALLED_OFF = cancelled(BOOKED, stamp=STAMP + timedelta(days=1))


def objects(times: Written = Written.ZONED) -> list[Block]:
    one = feed([BOOKED, CALLED_OFF], name="Checks", zone=BOOKED.zone, today=date(2026, 11, 1), times=times)
    return [read(invitation(BOOKED, times=times)), read(cancellation(CALLED_OFF, times=times)), read(one)]


def event_of(raw: bytes) -> Block:
    (event,) = read(raw).parts("VEVENT")
    return event


@BOTH
def test_a_calendar_has_one_prodid_one_version_one_method_and_a_component(times: Written) -> None:
    """RFC 5545 section 3.6 (CAL-01)."""
    for calendar in objects(times):
        assert calendar.one("VERSION").value == "2.0"
        assert calendar.one("PRODID").value
        assert calendar.one("METHOD").value
        assert len(calendar.all("CALSCALE")) <= 1
        assert calendar.blocks


@BOTH
def test_an_event_has_one_uid_one_stamp_in_utc_one_start_and_an_end_without_duration(times: Written) -> None:
    """RFC 5545 sections 3.6.1, 3.8.2.2 and 3.8.7.2 (CAL-02 to CAL-05)."""
    for calendar in objects(times):
        for event in calendar.parts("VEVENT"):
            assert event.one("UID").value
            assert re.fullmatch(r"\d{8}T\d{6}Z", event.one("DTSTAMP").value)
            assert when(event.one("DTEND"), calendar) > when(event.one("DTSTART"), calendar)
            assert event.one("DTEND").params.keys() == event.one("DTSTART").params.keys()
            assert event.all("DURATION") == []


def test_the_stamp_passed_in_is_written_in_utc_whatever_zone_it_came_in() -> None:
    """RFC 5545 section 3.8.7.2 (CAL-05)."""
    in_berlin = replace(BOOKED, stamp=STAMP.astimezone(ZoneInfo("Europe/Berlin")))
    assert event_of(invitation(in_berlin)).one("DTSTAMP").value == "20261024T150000Z"


def test_the_uid_is_the_bookings_random_one_and_holds_no_personal_data() -> None:
    """RFC 5545 section 3.8.4.7 and RFC 7986 section 5.3 (CAL-06, CAL-07)."""
    value = event_of(invitation(BOOKED)).one("UID").value
    assert UUID(value) == BOOKED.uid
    assert len(value.encode()) < 255
    assert "@" not in value
    assert event_of(cancellation(CALLED_OFF)).one("UID").value == value


def test_no_time_is_floating_and_no_tzid_stands_on_utc() -> None:
    """RFC 5545 sections 3.2.19 and 3.3.5 (CAL-12, CAL-13)."""
    for times, shape in [(Written.ZONED, r"\d{8}T\d{6}"), (Written.UTC, r"\d{8}T\d{6}Z")]:
        for calendar in objects(times):
            for event in calendar.parts("VEVENT"):
                for line in (event.one("DTSTART"), event.one("DTEND")):
                    assert re.fullmatch(shape, line.value)
                    assert (line.params == {"TZID": "America/New_York"}) is (times is Written.ZONED)


def test_a_shop_in_utc_writes_utc_even_when_zones_are_asked_for() -> None:
    """RFC 5545 section 3.2.19 (CAL-13)."""
    calendar = read(invitation(replace(BOOKED, zone="UTC")))
    assert calendar.parts("VTIMEZONE") == []
    assert calendar.blocks[0].one("DTSTART").value == "20261107T100000Z"


def test_each_tzid_used_has_exactly_one_vtimezone() -> None:
    """RFC 5545 section 3.6.5 (CAL-14)."""
    berlin = replace(BOOKED, uid=uuid4(), zone="Europe/Berlin")
    raw = feed([BOOKED, berlin, CALLED_OFF], name="Checks", zone="UTC", today=date(2026, 11, 1))
    calendar = read(raw)
    named = [zone.one("TZID").value for zone in calendar.parts("VTIMEZONE")]
    used = {e.one("DTSTART").params["TZID"] for e in calendar.parts("VEVENT")}
    assert sorted(named) == sorted(used) == ["America/New_York", "Europe/Berlin"]
    assert read(invitation(BOOKED, times=Written.UTC)).parts("VTIMEZONE") == []


def test_an_alarm_shows_words_and_is_relative_in_exact_hours() -> None:
    """RFC 5545 sections 3.6.6, 3.8.6.3 and 3.3.6 (CAL-16 to CAL-18)."""
    (alarm,) = event_of(invitation(BOOKED)).parts("VALARM")
    assert alarm.one("ACTION").value == "DISPLAY"
    assert alarm.one("DESCRIPTION").value == "Edge check tomorrow"
    assert alarm.one("TRIGGER").value == "-PT24H"
    assert alarm.one("TRIGGER").params == {}
    assert alarm.all("DURATION") == alarm.all("REPEAT") == []


def test_minus_24_hours_over_the_clock_change_is_ten_the_day_before_and_minus_one_day_would_be_nine() -> None:
    """RFC 5545 section 3.3.6, New York 2026-11-01 09:00."""
    after_change = replace(BOOKED, starts=wall("2026-11-01T09:00"), ends=wall("2026-11-01T09:30"))
    calendar = read(invitation(after_change))
    start = when(calendar.parts("VEVENT")[0].one("DTSTART"), calendar)
    assert start == datetime(2026, 11, 1, 14, 0, tzinfo=UTC)
    rings = (start - timedelta(hours=24)).astimezone(ZoneInfo(BOOKED.zone))
    assert (rings.day, rings.hour) == (31, 10)


@pytest.mark.parametrize("method", list(Method))
def test_the_media_type_names_charset_and_method(method: Method) -> None:
    """RFC 5545 section 8.1, RFC 6047 section 2.4 (CAL-19)."""
    assert content_type(method) == f"text/calendar; charset=utf-8; method={method.value}"


def test_a_name_with_a_comma_is_quoted_and_a_quote_in_it_cannot_break_out() -> None:
    """RFC 5545 section 3.1 (CAL-20)."""
    desk = Participant("Front Desk, Shop", "desk@shop.example")
    lines = unfold(invitation(replace(BOOKED, organizer=desk)))
    assert 'ORGANIZER;CN="Front Desk, Shop":mailto:desk@shop.example' in lines
    evil = Participant('A";X="1\r\nX-EVIL:1', "desk@shop.example")
    event = event_of(invitation(replace(BOOKED, organizer=evil)))
    assert event.one("ORGANIZER").params == {"CN": "A';X='1 X-EVIL:1"}
    assert event.all("X-EVIL") == []


@pytest.mark.parametrize(
    "email", ["", "nobody", "a@", "@b", "a b@c.example", "a@b\r\nX:1", "a@b,c@d", "<a@b.example>"]
)
def test_an_address_that_is_not_one_plain_address_is_refused(email: str) -> None:
    with pytest.raises(ValueError, match="mail address"):
        Participant("A", email)


def test_a_feed_names_itself_and_says_how_often_to_come_back() -> None:
    """RFC 7986 sections 5.1, 5.7, 5.8 (CAL-21); X- names for clients that read only those."""
    raw = feed(
        [BOOKED],
        name="Bay, one",
        zone=BOOKED.zone,
        today=date(2026, 11, 1),
        source_url="https://shop.example/f;a,b",
    )
    calendar = read(raw)
    assert unescape(calendar.one("NAME").value) == unescape(calendar.one("X-WR-CALNAME").value) == "Bay, one"
    assert calendar.one("REFRESH-INTERVAL").params == {"VALUE": "DURATION"}
    assert calendar.one("REFRESH-INTERVAL").value == calendar.one("X-PUBLISHED-TTL").value == "PT12H"
    assert calendar.one("SOURCE").params == {"VALUE": "URI"}
    assert calendar.one("SOURCE").value == "https://shop.example/f;a,b"


def test_an_empty_feed_is_still_a_calendar() -> None:
    """RFC 5545 section 3.6 (CAL-01): at least one component."""
    calendar = read(feed([], name="Checks", zone="America/Phoenix", today=date(2026, 11, 1)))
    assert [block.name for block in calendar.blocks] == ["VTIMEZONE"]


def test_a_url_is_not_escaped_as_text() -> None:
    """RFC 5545 section 3.8.4.6 (type URI)."""
    event = event_of(invitation(replace(BOOKED, url="https://shop.example/b/1;x,y")))
    assert event.one("URL").value == "https://shop.example/b/1;x,y"


def test_a_request_has_what_the_table_asks_for() -> None:
    """RFC 5546 sections 3.2.2 and 2.1.1 (ITIP-05)."""
    calendar = read(invitation(BOOKED))
    (event,) = calendar.parts("VEVENT")
    assert calendar.one("METHOD").value == "REQUEST"
    for name in ("UID", "DTSTAMP", "ORGANIZER", "DTSTART", "SUMMARY", "SEQUENCE"):
        event.one(name)
    assert event.one("ATTENDEE").params == {"CN": "Demo Owner", "PARTSTAT": "NEEDS-ACTION", "RSVP": "TRUE"}
    assert event.one("STATUS").value == "CONFIRMED"
    assert event.all("REQUEST-STATUS") == []


def test_a_cancellation_has_what_the_table_asks_for() -> None:
    """RFC 5546 section 3.2.5."""
    calendar = read(cancellation(CALLED_OFF))
    (event,) = calendar.parts("VEVENT")
    assert calendar.one("METHOD").value == "CANCEL"
    assert event.one("STATUS").value == "CANCELLED"
    assert event.one("SEQUENCE").value == "1"
    assert event.one("ATTENDEE").value == "mailto:owner@example.com"
    assert event.one("ORGANIZER").value == "mailto:desk@shop.example"
    assert event.parts("VALARM") == []
    assert event.all("REQUEST-STATUS") == []


def test_a_feed_has_no_attendee_no_alarm_and_one_organizer_an_event() -> None:
    """RFC 5546 section 3.2.1."""
    calendar = objects()[2]
    assert calendar.one("METHOD").value == "PUBLISH"
    confirmed, called_off = calendar.parts("VEVENT")
    for event in (confirmed, called_off):
        assert event.all("ATTENDEE") == []
        assert event.parts("VALARM") == []
        event.one("ORGANIZER")
        event.one("SUMMARY")
    assert called_off.one("SEQUENCE").value == "1"
    assert called_off.one("STATUS").value == "CANCELLED"


def test_a_message_holds_events_only_beside_its_zones() -> None:
    """RFC 5546 section 2.1 (ITIP-06)."""
    for calendar in objects():
        assert {block.name for block in calendar.blocks} <= {"VEVENT", "VTIMEZONE"}


@pytest.mark.parametrize(
    ("change", "sequence"),
    [
        ({"starts": wall("2026-11-07T09:45")}, 1),
        ({"ends": wall("2026-11-07T11:00")}, 1),
        ({"zone": "America/Chicago"}, 1),
        ({"location": "2 Other Street, Springfield"}, 1),
        ({"status": EventStatus.TENTATIVE}, 1),
        ({"description": "Bring the keys"}, 0),
        ({"summary": "Edge check, two weeks"}, 0),
        ({"alarm_words": "Tomorrow"}, 0),
    ],
)
def test_the_sequence_grows_when_time_place_or_status_change_and_only_then(
    change: Any, sequence: int
) -> None:
    """RFC 5546 sections 2.1.4 and 3.2.2.2 (ITIP-01, ITIP-04)."""
    assert amended(BOOKED, replace(BOOKED, **change)).sequence == sequence


def test_one_bookings_life_has_the_sequence_of_the_table() -> None:
    """RFC 5546 sections 2.1.4 and 2.1.5 (ITIP-01 to ITIP-04; CAL-08): E58, E59."""
    typo = amended(BOOKED, replace(BOOKED, description="Bring the keys", stamp=STAMP + timedelta(hours=1)))
    moved = amended(typo, replace(typo, starts=wall("2026-11-09T10:00"), ends=wall("2026-11-09T10:30")))
    back = amended(moved, replace(moved, starts=BOOKED.starts, ends=BOOKED.ends))
    off = cancelled(back, stamp=STAMP + timedelta(days=3))
    steps = [invitation(BOOKED), invitation(typo), invitation(moved), invitation(back), cancellation(off)]
    seen = []
    for raw in steps:
        calendar, event = read(raw), event_of(raw)
        seen.append((calendar.one("METHOD").value, event.one("SEQUENCE").value, event.one("STATUS").value))
    assert seen == [
        ("REQUEST", "0", "CONFIRMED"),
        ("REQUEST", "0", "CONFIRMED"),
        ("REQUEST", "1", "CONFIRMED"),
        ("REQUEST", "2", "CONFIRMED"),
        ("CANCEL", "3", "CANCELLED"),
    ]
    assert event_of(steps[1]).one("DTSTAMP").value > event_of(steps[0]).one("DTSTAMP").value
    assert {event_of(raw).one("UID").value for raw in steps} == {str(BOOKED.uid)}


def test_a_change_cannot_take_another_uid() -> None:
    """RFC 5545 section 3.8.4.7 (CAL-06)."""
    assert amended(BOOKED, replace(BOOKED, uid=uuid4())).uid == BOOKED.uid


@pytest.mark.parametrize(
    ("zone", "local", "utc"),
    [
        ("America/New_York", "2026-11-07T10:00", "20261107T150000Z"),
        ("America/Phoenix", "2026-11-07T10:00", "20261107T170000Z"),
        ("Europe/Berlin", "2026-10-31T10:00", "20261031T090000Z"),
        ("Europe/London", "2026-10-31T10:00", "20261031T100000Z"),
        ("Australia/Sydney", "2026-10-10T10:00", "20261009T230000Z"),
        ("America/New_York", "2027-03-21T10:00", "20270321T140000Z"),
        ("America/New_York", "2026-11-01T09:00", "20261101T140000Z"),
        ("America/New_York", "2026-11-01T01:30", "20261101T053000Z"),
        ("America/New_York", "2027-03-14T02:30", "20270314T073000Z"),
    ],
)
def test_a_wall_time_is_the_same_moment_with_its_zone_and_in_utc(zone: str, local: str, utc: str) -> None:
    """RFC 5545 section 3.3.5; E65. The last two: a time that happens twice, and one that does not exist."""
    one = replace(BOOKED, zone=zone, starts=wall(local), ends=wall(local) + timedelta(hours=3))
    assert event_of(invitation(one, times=Written.UTC)).one("DTSTART").value == utc
    zoned = read(invitation(one))
    expected = datetime.strptime(utc, "%Y%m%dT%H%M%SZ").replace(tzinfo=UTC)
    if local != "2026-11-01T01:30" and local != "2027-03-14T02:30":
        assert when(zoned.parts("VEVENT")[0].one("DTSTART"), zoned) == expected


def test_the_utc_request_has_the_expected_shape_line_by_line() -> None:
    """RFC 5545 section 3.6 and RFC 5546 section 3.2.2, a whole object."""
    assert unfold(invitation(BOOKED, times=Written.UTC)) == [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//shopwarranty//Film checks//EN",
        "METHOD:REQUEST",
        "BEGIN:VEVENT",
        "UID:07eb32fb-1b8f-493c-87a2-f979732b0c23",
        "DTSTAMP:20261024T150000Z",
        "DTSTART:20261107T150000Z",
        "DTEND:20261107T153000Z",
        "SEQUENCE:0",
        "STATUS:CONFIRMED",
        "SUMMARY:Two-week edge check",
        r"LOCATION:1 Test Street\, Springfield",
        'ORGANIZER;CN="Demo Film Shop":mailto:desk@shop.example',
        'ATTENDEE;CN="Demo Owner";PARTSTAT=NEEDS-ACTION;RSVP=TRUE:mailto:owner@example.com',
        "BEGIN:VALARM",
        "ACTION:DISPLAY",
        "DESCRIPTION:Edge check tomorrow",
        "TRIGGER:-PT24H",
        "END:VALARM",
        "END:VEVENT",
        "END:VCALENDAR",
    ]


@BOTH
def test_the_icalendar_library_reads_the_same_moment_back(times: Written) -> None:
    calendar = icalendar.Calendar.from_ical(invitation(BOOKED, times=times))
    (event,) = calendar.walk("VEVENT")
    start = event.decoded("DTSTART")
    assert start.astimezone(UTC) == datetime(2026, 11, 7, 15, 0, tzinfo=UTC)
    assert str(event["SUMMARY"]) == "Two-week edge check"


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"ends": BOOKED.starts}, "ends after it starts"),
        ({"starts": STAMP}, "naive"),
        ({"stamp": wall("2026-10-24T15:00")}, "aware"),
        ({"sequence": -1}, "starts at 0"),
    ],
)
def test_an_appointment_that_cannot_be_is_refused(change: Any, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        replace(BOOKED, **change)


def test_messages_that_break_the_tables_are_refused() -> None:
    with pytest.raises(ZoneUnknown):
        replace(BOOKED, zone="Mars/Olympus")
    with pytest.raises(ValueError, match="at least one attendee"):
        invitation(replace(BOOKED, attendee=None))
    with pytest.raises(ValueError, match="told with CANCEL"):
        invitation(CALLED_OFF)
    with pytest.raises(ValueError, match="grown sequence"):
        cancellation(BOOKED)
    with pytest.raises(ValueError, match="grown sequence"):
        cancellation(replace(CALLED_OFF, sequence=0))
