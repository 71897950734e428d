"""Wall times across clock changes. Values computed separately with plain Python 3.11 zoneinfo."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from shopwarranty.inspections.wall_clock import (
    TimeDoesNotExist,
    TimeHappensTwice,
    ZoneUnknown,
    days_later,
    is_plain,
    moment_by_rfc5545,
    moment_of,
    wall_time_of,
    zone_named,
)

SAME_TIME_TWO_WEEKS_ON = [
    ("America/New_York", "2026-10-24T10:00", "2026-10-24T14:00", "2026-11-07T15:00", "09:00"),
    ("America/Chicago", "2026-10-24T10:00", "2026-10-24T15:00", "2026-11-07T16:00", "09:00"),
    ("America/Los_Angeles", "2026-10-24T10:00", "2026-10-24T17:00", "2026-11-07T18:00", "09:00"),
    ("America/Phoenix", "2026-10-24T10:00", "2026-10-24T17:00", "2026-11-07T17:00", "10:00"),
    ("Europe/Berlin", "2026-10-17T10:00", "2026-10-17T08:00", "2026-10-31T09:00", "09:00"),
    ("Europe/London", "2026-10-17T10:00", "2026-10-17T09:00", "2026-10-31T10:00", "09:00"),
    ("Australia/Sydney", "2026-09-26T10:00", "2026-09-26T00:00", "2026-10-09T23:00", "11:00"),
    ("America/New_York", "2027-03-07T10:00", "2027-03-07T15:00", "2027-03-21T14:00", "11:00"),
    ("Europe/Berlin", "2027-03-20T10:00", "2027-03-20T09:00", "2027-04-03T08:00", "11:00"),
]


def wall(text: str) -> datetime:
    """A naive wall time."""
    return datetime.fromisoformat(text)


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


@pytest.mark.parametrize(("zone", "done", "done_utc", "check_utc", "wrong"), SAME_TIME_TWO_WEEKS_ON)
def test_the_same_wall_time_two_weeks_later_moves_in_utc_over_a_clock_change(
    zone: str, done: str, done_utc: str, check_utc: str, wrong: str
) -> None:
    local, where = datetime.fromisoformat(done), ZoneInfo(zone)
    assert moment_of(local, where) == utc(done_utc)
    assert moment_of(days_later(local, 14), where) == utc(check_utc)
    assert wall_time_of(utc(done_utc) + timedelta(hours=336), where).strftime("%H:%M") == wrong


@pytest.mark.parametrize(
    ("zone", "local", "first", "second"),
    [
        ("America/New_York", "2026-11-01T01:30", "2026-11-01T05:30", "2026-11-01T06:30"),
        ("Europe/Berlin", "2026-10-25T02:30", "2026-10-25T00:30", "2026-10-25T01:30"),
        ("Europe/London", "2026-10-25T01:30", "2026-10-25T00:30", "2026-10-25T01:30"),
    ],
)
def test_a_time_that_happens_twice_is_refused_and_means_the_first_in_a_calendar(
    zone: str, local: str, first: str, second: str
) -> None:
    """E64; RFC 5545 section 3.3.5 (form #3) for the calendar reading."""
    wall, where = datetime.fromisoformat(local), ZoneInfo(zone)
    with pytest.raises(TimeHappensTwice, match="happens twice"):
        moment_of(wall, where)
    assert not is_plain(wall, where)
    assert moment_by_rfc5545(wall, where) == utc(first)
    assert wall_time_of(utc(first), where) == wall_time_of(utc(second), where) == wall


@pytest.mark.parametrize(
    ("zone", "local", "read_as", "wall"),
    [
        ("America/New_York", "2027-03-14T02:30", "2027-03-14T07:30", "03:30"),
        ("Europe/Berlin", "2027-03-28T02:30", "2027-03-28T01:30", "03:30"),
        ("Europe/London", "2027-03-28T01:30", "2027-03-28T01:30", "02:30"),
    ],
)
def test_a_time_that_does_not_exist_is_refused_and_read_with_the_offset_before_the_gap_in_a_calendar(
    zone: str, local: str, read_as: str, wall: str
) -> None:
    """E64; RFC 5545 section 3.3.5 (form #3) for the calendar reading."""
    missing, where = datetime.fromisoformat(local), ZoneInfo(zone)
    with pytest.raises(TimeDoesNotExist, match="does not exist"):
        moment_of(missing, where)
    assert moment_by_rfc5545(missing, where) == utc(read_as)
    assert wall_time_of(utc(read_as), where).strftime("%H:%M") == wall


def test_an_ordinary_time_on_the_day_of_the_change_is_plain() -> None:
    assert moment_of(wall("2026-11-01T09:00"), ZoneInfo("America/New_York")) == utc("2026-11-01T14:00")


@pytest.mark.parametrize(
    ("zone", "from_", "to", "hours"),
    [
        ("America/New_York", "2026-10-31T22:00", "2026-11-01T06:00", 9),
        ("Europe/Berlin", "2026-10-24T20:00", "2026-10-25T06:00", 11),
    ],
)
def test_time_elapsed_over_a_night_with_a_change_is_not_the_wall_difference(
    zone: str, from_: str, to: str, hours: int
) -> None:
    where = ZoneInfo(zone)
    elapsed = moment_of(datetime.fromisoformat(to), where) - moment_of(datetime.fromisoformat(from_), where)
    assert elapsed == timedelta(hours=hours)


def test_new_york_and_london_are_four_hours_apart_for_one_week_in_autumn() -> None:
    for day, hours in [("2026-10-24", 5), ("2026-10-26", 4), ("2026-11-02", 5)]:
        noon = datetime.fromisoformat(f"{day}T12:00")
        gap = moment_of(noon, ZoneInfo("America/New_York")) - moment_of(noon, ZoneInfo("Europe/London"))
        assert gap == timedelta(hours=hours)


@pytest.mark.parametrize("name", ["Mars/Olympus", "", "../etc/passwd", "/etc/passwd", "America"])
def test_an_unknown_zone_is_named(name: str) -> None:
    with pytest.raises(ZoneUnknown, match="no time zone"):
        zone_named(name)


def test_wall_times_are_naive_and_moments_are_aware() -> None:
    with pytest.raises(ValueError, match="naive"):
        moment_of(utc("2026-01-01T10:00"), UTC)
    with pytest.raises(ValueError, match="aware"):
        wall_time_of(wall("2026-01-01T00:00"), UTC)
