"""When a check is due: from the day of handover, with a window, and what a visit does to it.

The due day and its window never move. Only the proposed day moves to a day on which the shop is open.
A check is an offer: being late or missing it changes nothing about cover.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from typing import Final

from shopwarranty.warranty.cover import Term, add_term

_SEARCH_DAYS: Final = 366


@dataclass(frozen=True, slots=True)
class CheckTiming:
    """Offset from handover in months, then days, and how many days the window reaches before and after."""

    offset_months: int = 0
    offset_days: int = 0
    days_before: int = 0
    days_after: int = 0

    def __post_init__(self) -> None:
        if min(self.offset_months, self.offset_days, self.days_before, self.days_after) < 0:
            raise ValueError("offsets and windows of a check cannot be negative")


HANDOVER_LOOK: Final = CheckTiming()
TWO_WEEK_CHECK: Final = CheckTiming(offset_days=14, days_before=7, days_after=14)
"""Due on day 14, window day 7 to day 28 inclusive. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class DueWindow:
    """The due day and the first and last day of the window, all inclusive."""

    due: date
    opens: date
    closes: date

    def __post_init__(self) -> None:
        if not self.opens <= self.due <= self.closes:
            raise ValueError("a due day lies inside its window")

    def __contains__(self, day: date) -> bool:
        return self.opens <= day <= self.closes


class Timeliness(StrEnum):
    EARLY = "early"
    IN_WINDOW = "in_window"
    LATE = "late"


class Outlook(StrEnum):
    """Where a check that is not settled stands on a day."""

    AHEAD = "ahead"
    OPEN = "open"
    OVERDUE = "overdue"
    WINDOW_OVER = "window_over"


class Direction(StrEnum):
    """Where to look first when the due day is closed."""

    NEXT = "next"
    PREVIOUS = "previous"


@dataclass(frozen=True, slots=True)
class Proposal:
    """A day to offer; `in_window` is False when every open day of the window is gone."""

    day: date
    in_window: bool


def due_window(handed_over_on: date, timing: CheckTiming) -> DueWindow:
    """Due day and window of a check for a vehicle handed over on that day in the shop's zone."""
    due = handed_over_on
    if timing.offset_months or timing.offset_days:
        due = add_term(handed_over_on, Term(months=timing.offset_months, days=timing.offset_days))
    opens = max(handed_over_on, due - timedelta(days=timing.days_before))
    return DueWindow(due, opens, due + timedelta(days=timing.days_after))


def yearly_timings(first: CheckTiming, *, last_day: date, handed_over_on: date) -> tuple[CheckTiming, ...]:
    """The timing repeated every 12 months while its due day is on or before `last_day`.

    Each counts from handover itself, so 29 February comes back in leap years.
    """
    found: list[CheckTiming] = []
    timing = first
    while due_window(handed_over_on, timing).due <= last_day:
        found.append(timing)
        months = timing.offset_months + 12
        timing = CheckTiming(months, first.offset_days, first.days_before, first.days_after)
    return tuple(found)


def timeliness(window: DueWindow, seen_on: date) -> Timeliness:
    """Whether a visit on that day was early, in the window, or late."""
    if seen_on < window.opens:
        return Timeliness.EARLY
    return Timeliness.IN_WINDOW if seen_on in window else Timeliness.LATE


def settles(window: DueWindow, seen_on: date) -> bool:
    """Whether a finished visit, booked or walk-in, settles the check.

    A visit before the window leaves the check open; one after it settles it late.
    """
    return timeliness(window, seen_on) is not Timeliness.EARLY


def outlook(window: DueWindow, today: date) -> Outlook:
    """How an unsettled check stands: not yet to be offered, open, past its due day, or past its window."""
    if today < window.opens:
        return Outlook.AHEAD
    if today <= window.due:
        return Outlook.OPEN
    return Outlook.OVERDUE if today <= window.closes else Outlook.WINDOW_OVER


def propose_day(
    window: DueWindow,
    is_open: Callable[[date], bool],
    *,
    not_before: date | None = None,
    prefer: Direction = Direction.NEXT,
) -> Proposal | None:
    """The day to offer: the due day, else the nearest open day in the preferred direction, else the other.

    `not_before` is usually today. Days in the window come first; when none is left the next open day after it
    is proposed and marked. None when the shop is closed for a year on end.
    """
    earliest = max(window.opens, not_before or window.opens)
    wanted = max(window.due, earliest)
    later, sooner = _days(wanted, window.closes), _days_back(min(wanted, window.closes), earliest)
    ordered = (later, sooner) if prefer is Direction.NEXT else (sooner, later)
    for days in ordered:
        for day in days:
            if is_open(day):
                return Proposal(day, in_window=True)
    after = max(window.closes + timedelta(days=1), earliest)
    for day in _days(after, after + timedelta(days=_SEARCH_DAYS)):
        if is_open(day):
            return Proposal(day, in_window=False)
    return None


def _days(first: date, last: date) -> Iterator[date]:
    while first <= last:
        yield first
        first += timedelta(days=1)


def _days_back(last: date, first: date) -> Iterator[date]:
    while last >= first:
        yield last
        last -= timedelta(days=1)
