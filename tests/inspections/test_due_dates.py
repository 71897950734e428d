"""Due days and windows. Table values were computed separately with plain Python 3.11."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopwarranty.inspections.due_dates import (
    HANDOVER_LOOK,
    TWO_WEEK_CHECK,
    CheckTiming,
    Direction,
    DueWindow,
    Outlook,
    Proposal,
    Timeliness,
    due_window,
    outlook,
    propose_day,
    settles,
    timeliness,
    yearly_timings,
)

HANDED_OVER = date(2026, 12, 11)
CLOSED = {date(2026, 12, 25), date(2026, 12, 26)}
days = st.dates(date(2020, 1, 1), date(2040, 1, 1))


def open_except_sundays_and_christmas(day: date) -> bool:
    return day.weekday() != 6 and day not in CLOSED


@pytest.mark.parametrize(
    ("handed_over", "due", "weekday"),
    [
        ("2026-02-14", "2026-02-28", "Sat"),
        ("2028-02-15", "2028-02-29", "Tue"),
        ("2024-02-29", "2024-03-14", "Thu"),
        ("2026-12-24", "2027-01-07", "Thu"),
        ("2026-10-18", "2026-11-01", "Sun"),
        ("2026-11-01", "2026-11-15", "Sun"),
    ],
)
def test_the_two_week_check_is_due_fourteen_days_after_handover_on_the_same_weekday(
    handed_over: str, due: str, weekday: str
) -> None:
    first = date.fromisoformat(handed_over)
    window = due_window(first, TWO_WEEK_CHECK)
    assert window.due == date.fromisoformat(due)
    assert window.due.strftime("%a") == first.strftime("%a") == weekday


def test_the_two_week_window_runs_from_day_seven_to_day_twenty_eight_inclusive() -> None:
    window = due_window(HANDED_OVER, TWO_WEEK_CHECK)
    inside = [n for n in range(60) if HANDED_OVER + timedelta(days=n) in window]
    assert inside == list(range(7, 29))


def test_a_check_in_months_is_clamped_to_the_months_end_and_then_gets_its_window() -> None:
    window = due_window(date(2026, 11, 30), CheckTiming(offset_months=3, days_before=7, days_after=30))
    assert window == DueWindow(date(2027, 2, 28), date(2027, 2, 21), date(2027, 3, 30))


def test_the_handover_look_is_the_day_of_handover_alone() -> None:
    assert due_window(HANDED_OVER, HANDOVER_LOOK) == DueWindow(HANDED_OVER, HANDED_OVER, HANDED_OVER)


def test_a_window_never_opens_before_handover() -> None:
    window = due_window(HANDED_OVER, CheckTiming(offset_days=3, days_before=10, days_after=1))
    assert window.opens == HANDED_OVER


def test_yearly_checks_count_from_handover_and_stop_with_the_cover() -> None:
    handed_over = date(2024, 2, 29)
    timings = yearly_timings(
        CheckTiming(offset_months=12), last_day=date(2029, 2, 28), handed_over_on=handed_over
    )
    due = [due_window(handed_over, timing).due.isoformat() for timing in timings]
    assert due == ["2025-02-28", "2026-02-28", "2027-02-28", "2028-02-29", "2029-02-28"]


def test_a_negative_offset_is_refused() -> None:
    with pytest.raises(ValueError, match="negative"):
        CheckTiming(offset_days=-1)


@pytest.mark.parametrize(
    ("day", "label", "settled"),
    [
        (3, Timeliness.EARLY, False),
        (6, Timeliness.EARLY, False),
        (7, Timeliness.IN_WINDOW, True),
        (14, Timeliness.IN_WINDOW, True),
        (28, Timeliness.IN_WINDOW, True),
        (29, Timeliness.LATE, True),
        (60, Timeliness.LATE, True),
    ],
)
def test_an_early_visit_leaves_the_check_open_and_a_late_one_settles_it(
    day: int, label: Timeliness, settled: bool
) -> None:
    """E56, E60: the same whether it was booked or a walk-in."""
    window = due_window(HANDED_OVER, TWO_WEEK_CHECK)
    seen_on = HANDED_OVER + timedelta(days=day)
    assert timeliness(window, seen_on) is label
    assert settles(window, seen_on) is settled


@pytest.mark.parametrize(
    ("day", "expected"),
    [
        (6, Outlook.AHEAD),
        (7, Outlook.OPEN),
        (14, Outlook.OPEN),
        (15, Outlook.OVERDUE),
        (28, Outlook.OVERDUE),
        (29, Outlook.WINDOW_OVER),
    ],
)
def test_a_check_nobody_settled_is_ahead_open_overdue_or_past_its_window(day: int, expected: Outlook) -> None:
    window = due_window(HANDED_OVER, TWO_WEEK_CHECK)
    assert outlook(window, HANDED_OVER + timedelta(days=day)) is expected


def test_a_check_due_at_christmas_is_proposed_for_the_monday_after_and_stays_due_at_christmas() -> None:
    """E55. Done Fri 2026-12-11; 25 and 26 December and Sundays closed -> Mon 2026-12-28, day 17."""
    window = due_window(HANDED_OVER, TWO_WEEK_CHECK)
    assert window.due == date(2026, 12, 25)
    assert propose_day(window, open_except_sundays_and_christmas) == Proposal(
        date(2026, 12, 28), in_window=True
    )
    assert window.closes == date(2027, 1, 8)


def test_a_shop_may_prefer_the_open_day_before() -> None:
    window = due_window(HANDED_OVER, TWO_WEEK_CHECK)
    proposal = propose_day(window, open_except_sundays_and_christmas, prefer=Direction.PREVIOUS)
    assert proposal == Proposal(date(2026, 12, 24), in_window=True)


def test_when_nothing_later_in_the_window_is_open_an_earlier_day_in_it_is_proposed() -> None:
    window = due_window(HANDED_OVER, TWO_WEEK_CHECK)
    proposal = propose_day(window, lambda day: day <= date(2026, 12, 20))
    assert proposal == Proposal(date(2026, 12, 20), in_window=True)


def test_when_the_window_is_spent_the_proposal_says_that_it_lies_outside() -> None:
    window = due_window(HANDED_OVER, TWO_WEEK_CHECK)
    proposal = propose_day(window, open_except_sundays_and_christmas, not_before=date(2027, 1, 9))
    assert proposal == Proposal(date(2027, 1, 9), in_window=False)


def test_a_shop_that_never_opens_gets_no_proposal() -> None:
    assert propose_day(due_window(HANDED_OVER, TWO_WEEK_CHECK), lambda day: False) is None


@given(days, st.sets(st.integers(0, 6), max_size=6), st.integers(0, 50), st.sampled_from(Direction))
def test_a_proposed_day_is_open_not_past_and_in_the_window_whenever_one_is_left(
    handed_over: date, closed_weekdays: set[int], passed: int, prefer: Direction
) -> None:
    def is_open(day: date) -> bool:
        return day.weekday() not in closed_weekdays

    window, today = due_window(handed_over, TWO_WEEK_CHECK), handed_over + timedelta(days=passed)
    proposal = propose_day(window, is_open, not_before=today, prefer=prefer)
    left = [day for n in range(60) if (day := handed_over + timedelta(days=n)) in window and day >= today]
    assert proposal is not None
    assert is_open(proposal.day)
    assert proposal.day >= today
    assert proposal.in_window is (proposal.day in window) is any(is_open(day) for day in left)
