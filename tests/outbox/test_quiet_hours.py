"""Sending hours across days and clock changes, against a minute-by-minute walk."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopwarranty.outbox.quiet_hours import SendingHours, may_send, next_sending_moment

NEW_YORK = ZoneInfo("America/New_York")
BERLIN = ZoneInfo("Europe/Berlin")
USUAL = SendingHours()


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


@pytest.mark.parametrize(
    ("after", "sent"),
    [
        ("2026-07-01T11:59", "2026-07-01T12:00"),
        ("2026-07-01T12:00", "2026-07-01T12:00"),
        ("2026-07-01T23:59", "2026-07-01T23:59"),
        ("2026-07-02T00:00", "2026-07-02T12:00"),
        ("2026-07-02T03:30", "2026-07-02T12:00"),
    ],
)
def test_a_message_leaves_from_eight_to_before_twenty_in_the_shops_zone(after: str, sent: str) -> None:
    """New York in summer is four hours behind UTC: 08:00 there is 12:00Z, 20:00 there is 00:00Z."""
    assert next_sending_moment(utc(after), USUAL, NEW_YORK) == utc(sent)


def test_eight_in_the_morning_moves_in_utc_when_the_clocks_change() -> None:
    """New York 2026-11-01 and 2027-03-14, Berlin 2026-10-25 and 2027-03-28."""
    for zone, evening, morning in [
        (NEW_YORK, "2026-11-01T02:00", "2026-11-01T13:00"),
        (NEW_YORK, "2027-03-14T03:00", "2027-03-14T12:00"),
        (BERLIN, "2026-10-24T20:00", "2026-10-25T07:00"),
        (BERLIN, "2027-03-27T20:00", "2027-03-28T06:00"),
    ]:
        assert next_sending_moment(utc(evening), USUAL, zone) == utc(morning)


def test_closed_days_and_weekdays_are_passed_over() -> None:
    hours = SendingHours(weekdays=frozenset(range(5)), closed=frozenset({date(2026, 12, 25)}))
    assert next_sending_moment(utc("2026-12-25T10:00"), hours, BERLIN) == utc("2026-12-28T07:00")


def test_an_opening_the_clock_skips_becomes_the_first_minute_after_the_gap() -> None:
    night = SendingHours(time(2, 30), time(4))
    assert next_sending_moment(utc("2027-03-28T00:00"), night, BERLIN) == utc("2027-03-28T01:00")


def test_hours_that_the_clock_skips_whole_wait_for_the_next_day() -> None:
    night = SendingHours(time(2, 10), time(2, 50))
    assert next_sending_moment(utc("2027-03-28T00:30"), night, BERLIN) == utc("2027-03-29T00:10")


def test_a_shop_that_never_sends_is_an_error_and_not_an_endless_search() -> None:
    closed = frozenset(date(2026, 1, 1) + timedelta(days=n) for n in range(500))
    with pytest.raises(ValueError, match="no sending hours"):
        next_sending_moment(utc("2026-01-01T10:00"), SendingHours(closed=closed), BERLIN)


@pytest.mark.parametrize("hours", [(time(20), time(8)), (time(8), time(8))])
def test_hours_must_end_after_they_begin(hours: tuple[time, time]) -> None:
    with pytest.raises(ValueError, match="end after"):
        SendingHours(*hours)


def test_weekdays_must_be_named_and_moments_aware() -> None:
    for weekdays in (frozenset[int](), frozenset({7})):
        with pytest.raises(ValueError, match="weekday"):
            SendingHours(weekdays=weekdays)
    with pytest.raises(ValueError, match="aware"):
        may_send(datetime.fromisoformat("2026-01-01T10:00"), USUAL, BERLIN)


ZONES = st.sampled_from(
    ["America/New_York", "Europe/Berlin", "Australia/Lord_Howe", "Asia/Kathmandu", "Africa/Cairo"]
)
STARTS = st.sampled_from(["2026-10-24", "2026-10-31", "2027-03-13", "2027-03-27", "2027-04-03", "2026-04-23"])


@settings(max_examples=80, deadline=None)
@given(ZONES, STARTS, st.integers(0, 2880), st.integers(0, 1400), st.integers(10, 700))
def test_the_moment_is_the_first_minute_inside_the_hours_save_in_an_hour_that_repeats(
    name: str, day: str, minutes: int, opens: int, length: int
) -> None:
    zone, closes = ZoneInfo(name), min(opens + length, 1439)
    hours = SendingHours(time(opens // 60, opens % 60), time(closes // 60, closes % 60))
    after = utc(day) + timedelta(minutes=minutes)
    walked = after
    while not may_send(walked, hours, zone):
        walked += timedelta(minutes=1)
    found = next_sending_moment(after, hours, zone)
    assert may_send(found, hours, zone)
    assert found == walked or (found > walked and walked.astimezone(zone).fold == 1)
