"""Folding, escaping and zones, by section of RFC 5545. Worked values computed apart with plain Python."""

import re
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar, Event

from shopwarranty.inspections.calendar_lines import exact_hours, fold, one_line, text, written, zone_component
from tests.inspections.strict_calendar import read, split, unescape, unfold, wall_of


def escaped(words: str) -> str:
    return text(words).to_ical().decode()


@pytest.mark.parametrize(
    ("line", "octets", "lengths"),
    [
        ("X" * 75, 75, [75]),
        ("X" * 76, 76, [75, 2]),
        ("X" * 149, 149, [75, 75]),
        ("X" * 150, 150, [75, 75, 2]),
        ("SUMMARY:" + "a" * 66 + "é" + "b" * 5, 81, [74, 8]),
        ("SUMMARY:" + "a" * 67 + "é" + "b" * 5, 82, [75, 8]),
        ("SUMMARY:" + "a" * 63 + "\U0001f697" + "b" * 5, 80, [75, 6]),
        ("SUMMARY:" + "a" * 64 + "\U0001f697" + "b" * 5, 81, [72, 10]),
    ],
)
def test_lines_fold_at_seventy_five_octets_and_never_inside_a_character(
    line: str, octets: int, lengths: list[int]
) -> None:
    """RFC 5545 section 3.1 (CAL-09)."""
    assert len(line.encode()) == octets
    assert [len(part.encode()) for part in fold(line).split("\r\n")] == lengths


@given(st.text(st.characters(blacklist_categories=["Cs", "Cc"]), min_size=1, max_size=400))
def test_unfolding_gives_back_what_was_folded(words: str) -> None:
    """RFC 5545 section 3.1."""
    line = "X:" + words
    assert unfold((fold(line) + "\r\n").encode()) == [line]


@pytest.mark.parametrize(
    ("typed", "encoded"),
    [
        ("Edge check, 2 weeks; hood & bumper", r"Edge check\, 2 weeks\; hood & bumper"),
        ("a\\b", r"a\\b"),
        ("A\nB", r"A\nB"),
        ("A\r\nB", r"A\nB"),
        ("Time: 10:30", "Time: 10:30"),
        ("\\n", r"\\n"),
        ("\\N", r"\\N"),
        ("C:\\New", r"C:\\New"),
        ('say "hi"', 'say "hi"'),
        ("a\rb\x00c\x07d\x7fe", "abcde"),
        ("a\u2028b", r"a\nb"),
    ],
)
def test_text_values_are_escaped_so_that_they_read_back_as_typed(typed: str, encoded: str) -> None:
    """RFC 5545 section 3.3.11 (CAL-10)."""
    assert escaped(typed) == encoded


def test_the_summary_example_is_44_octets() -> None:
    assert len(f"SUMMARY:{escaped('Edge check, 2 weeks; hood & bumper')}".encode()) == 44


@given(st.text(max_size=200))
def test_any_text_reads_back_as_typed_but_for_control_characters(typed: str) -> None:
    """RFC 5545 sections 3.1 and 3.3.11 (CAL-11: escape first, then fold)."""
    event = Event()
    event.add("SUMMARY", text(typed))
    calendar = Calendar()
    calendar.add_component(event)
    value = read(written(calendar)).blocks[0].one("SUMMARY").value
    plain = re.sub("\r\n|\u2028|\u2029", "\n", typed)
    assert unescape(value) == re.sub("[\x00-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff]", "", plain)


def test_the_full_example_folds_after_escaping() -> None:
    """RFC 5545 section 3.1: first line exactly 75 octets, the second 10."""
    words = "Bring: keys\nPark at bay 3; do not wash, wax or polish.\nPath C:\\jobs"
    first, second = fold(f"DESCRIPTION:{escaped(words)}").split("\r\n")
    assert first == r"DESCRIPTION:Bring: keys\nPark at bay 3\; do not wash\, wax or polish.\nPath"
    assert second == r"  C:\\jobs"
    assert (len(first.encode()), len(second.encode())) == (75, 10)


def test_parameter_values_hold_no_quote_and_no_line_break() -> None:
    """RFC 5545 section 3.1 (CAL-20)."""
    assert one_line('Front "Desk"\r\nX-EVIL:1, Shop') == "Front 'Desk' X-EVIL:1, Shop"
    assert split('ORGANIZER;CN="Front Desk, Shop":mailto:desk@shop.example').params == {
        "CN": "Front Desk, Shop"
    }


@pytest.mark.parametrize(
    ("length", "before", "written_as"),
    [
        (timedelta(hours=24), True, "-PT24H"),
        (timedelta(days=3), True, "-PT72H"),
        (timedelta(hours=12), False, "PT12H"),
        (timedelta(minutes=90), True, "-PT1H30M"),
        (timedelta(minutes=15), True, "-PT15M"),
    ],
)
def test_alarms_are_written_in_exact_hours_and_never_in_nominal_days(
    length: timedelta, before: bool, written_as: str
) -> None:
    """RFC 5545 section 3.3.6 (CAL-18)."""
    assert exact_hours(length, before=before).to_ical().decode() == written_as


def test_an_alarm_of_no_length_is_refused() -> None:
    with pytest.raises(ValueError, match="a minute"):
        exact_hours(timedelta(0))


def test_new_york_has_the_onsets_of_its_current_rule() -> None:
    """RFC 5545 section 3.6.5 (CAL-15): DTSTART is wall time before the change, without TZID.

    15 USC 260a (from memory) and RFC 5545's own example: second Sunday of March, first of November, 02:00.
    """
    calendar = Calendar()
    calendar.add_component(zone_component("America/New_York", date(2026, 11, 7), date(2027, 3, 20)))
    (zone,) = read(written(calendar)).parts("VTIMEZONE")
    seen = [
        (
            b.name,
            b.one("DTSTART").value,
            b.one("TZOFFSETFROM").value,
            b.one("TZOFFSETTO").value,
            b.one("TZNAME").value,
        )
        for b in zone.blocks
    ]
    assert ("STANDARD", "20261101T020000", "-0400", "-0500", "EST") in seen
    assert ("DAYLIGHT", "20270314T020000", "-0500", "-0400", "EDT") in seen
    assert all(not b.one("DTSTART").params for b in zone.blocks)


def test_berlin_changes_at_two_and_at_three_in_the_morning() -> None:
    """Dir. 2000/84/EC: 01:00 UTC on the last Sundays of March and October."""
    calendar = Calendar()
    calendar.add_component(zone_component("Europe/Berlin", date(2026, 10, 1), date(2027, 4, 1)))
    (zone,) = read(written(calendar)).parts("VTIMEZONE")
    onsets = {(b.name, b.one("DTSTART").value) for b in zone.blocks}
    assert {("STANDARD", "20261025T030000"), ("DAYLIGHT", "20270328T020000")} <= onsets


@pytest.mark.parametrize("name", ["America/Phoenix", "Asia/Kathmandu", "Asia/Tokyo"])
def test_a_zone_without_changes_has_one_standard_part(name: str) -> None:
    calendar = Calendar()
    calendar.add_component(zone_component(name, date(2026, 1, 1), date(2026, 1, 1)))
    (zone,) = read(written(calendar)).parts("VTIMEZONE")
    (part,) = zone.blocks
    assert part.name == "STANDARD"
    assert part.one("TZOFFSETFROM").value == part.one("TZOFFSETTO").value


@given(
    st.sampled_from(
        ["America/New_York", "Europe/London", "Europe/Dublin", "Australia/Lord_Howe", "Africa/Casablanca"]
    ),
    st.datetimes(datetime.fromisoformat("2026-01-01"), datetime.fromisoformat("2029-12-31")),
)
def test_a_zone_part_read_by_its_own_rules_gives_the_offset_of_the_tz_database(
    name: str, moment: datetime
) -> None:
    """RFC 5545 section 3.6.5: the observance in force is the one with the latest onset."""
    moment = moment.replace(tzinfo=UTC, microsecond=0)
    calendar = Calendar()
    calendar.add_component(zone_component(name, date(2026, 1, 1), date(2029, 12, 31)))
    (zone,) = read(written(calendar)).parts("VTIMEZONE")
    onsets = []
    for part in zone.blocks:
        ahead, behind = part.one("TZOFFSETFROM").value, part.one("TZOFFSETTO").value
        onset = wall_of(part.one("DTSTART").value).replace(tzinfo=UTC) - _length(ahead)
        onsets.append((onset, _length(behind)))
    in_force = max(pair for pair in onsets if pair[0] <= moment)[1]
    assert moment.astimezone(ZoneInfo(name)).utcoffset() == in_force


def _length(value: str) -> timedelta:
    sign = -1 if value[0] == "-" else 1
    return sign * timedelta(hours=int(value[1:3]), minutes=int(value[3:5]))
