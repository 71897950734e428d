"""What a change of a check plan does to the checks planned by it, worked out before anything is saved.

Only checks that are due and have no time yet are touched. What is booked, done, missed or set aside stays.
"""

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any, Final

from django.db.models import Exists, OuterRef

from shopwarranty.inspections.due_dates import CheckTiming, DueWindow, due_window

from .models import Booking, Check, CheckPlan, Visit

MOST_YEARS: Final = 40


@dataclass(frozen=True, slots=True)
class PlanValues:
    """What can be said about a plan. Offsets count from handover: months first, then days."""

    name: str
    offset_months: int
    offset_days: int
    days_before: int
    days_after: int
    minutes: int
    places: str
    offered_to_holder: bool
    repeats_yearly: bool

    @property
    def timing(self) -> CheckTiming:
        return CheckTiming(self.offset_months, self.offset_days, self.days_before, self.days_after)

    @classmethod
    def of(cls, plan: CheckPlan) -> "PlanValues":
        return cls(**{name: getattr(plan, name) for name in cls.__slots__})

    def changed_from(self, before: "PlanValues") -> dict[str, Any]:
        was = asdict(before)
        return {name: value for name, value in asdict(self).items() if was[name] != value}


@dataclass(frozen=True, slots=True)
class Shift:
    """One check and the window it would get."""

    check: Check
    window: DueWindow

    def late_on(self, today: date) -> bool:
        """Overdue by the change alone."""
        return self.window.due < today <= self.check.due_on


@dataclass(frozen=True, slots=True)
class Effect:
    """`stays_booked`: due checks that keep their day because they have a time or are being looked at now.

    `in_the_way`: those whose new day another check of the same vehicle has already.
    """

    shifts: tuple[Shift, ...]
    stays_booked: int
    in_the_way: int

    def late_on(self, today: date) -> int:
        return sum(shift.late_on(today) for shift in self.shifts)


def effect_of(plan: CheckPlan, values: PlanValues) -> Effect:
    """Three queries, however many checks."""
    due = Check.objects.filter(plan=plan, state=Check.State.DUE, job__handed_over_on__isnull=False)
    open_ones = list(_without_a_time(due).select_related("job__vehicle").order_by("due_on", "pk"))
    stays = due.count() - len(open_ones)
    moves = tuple(_shifts(open_ones, PlanValues.of(plan).timing, values.timing))
    moving = {shift.check.pk for shift in moves}
    fixed = _fixed_of(plan, moving)
    free = tuple(shift for shift in moves if (shift.check.job_id, shift.window.due) not in fixed)
    return Effect(free, stays, len(moves) - len(free))


def _fixed_of(plan: CheckPlan, moving: set[int]) -> set[tuple[int, date]]:
    if not moving:
        return set()
    rows = Check.objects.filter(plan=plan).values_list("pk", "job", "due_on")
    return {(job, due) for pk, job, due in rows.iterator() if pk not in moving}


def _without_a_time(rows: Any) -> Any:
    booked = Booking.objects.filter(check_due=OuterRef("pk"), state=Booking.State.BOOKED)
    looked_at = Visit.objects.filter(check_due=OuterRef("pk"), state=Visit.State.OPEN)
    return rows.filter(~Exists(booked), ~Exists(looked_at))


def _shifts(checks: list[Check], old: CheckTiming, new: CheckTiming) -> Iterator[Shift]:
    for check in checks:
        handed_over_on = check.job.handed_over_on
        assert handed_over_on is not None
        year = _year_of(check, handed_over_on, old)
        if year is None:
            continue
        later = CheckTiming(new.offset_months + 12 * year, new.offset_days, new.days_before, new.days_after)
        window = due_window(handed_over_on, later)
        if window != DueWindow(check.due_on, check.window_from, check.window_to):
            yield Shift(check, window)


def _year_of(check: Check, handed_over_on: date, timing: CheckTiming) -> int | None:
    """Which repetition it is; None for a day that the plan as it stands does not lead to."""
    guess = max(0, round((check.due_on - handed_over_on).days / 365.25 - timing.offset_months / 12))
    for year in (guess, guess - 1, guess + 1):
        months = timing.offset_months + 12 * year
        if 0 <= year <= MOST_YEARS:
            found = due_window(handed_over_on, CheckTiming(months, timing.offset_days)).due
            if found == check.due_on:
                return year
    return None
