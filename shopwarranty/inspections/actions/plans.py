"""Which checks a job gets, and when they are due. Offsets and windows: common practice, no source."""

from collections.abc import Iterator
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import override

from shopwarranty.inspections.due_dates import CheckTiming, DueWindow, due_window, yearly_timings
from shopwarranty.jobs.models import Job
from shopwarranty.shops.models import Shop

from ..models import Check, CheckPlan, Visit

HANDOVER = "handover"
TWO_WEEK = "two-week"
THREE_MONTH = "three-month"
YEARLY = "yearly"
MOST_YEARS = 12


def add_usual_check_plans(shop: Shop) -> None:
    """The plans a new shop starts with, in its own language. Those it has already stay as they are."""
    with override(shop.language):
        for key, name, values in _usual():
            CheckPlan.objects.get_or_create(key=key, defaults={"name": name, **values})


def _usual() -> Iterator[tuple[str, str, dict[str, object]]]:
    yield HANDOVER, _("Handover look"), {"offered_to_holder": False, "minutes": 15}
    yield TWO_WEEK, _("Two-week edge check"), {"offset_days": 14, "days_before": 7, "days_after": 14}
    yield THREE_MONTH, _("Three-month check"), {"offset_months": 3, "days_before": 14, "days_after": 28}
    yearly = {"offset_months": 12, "days_before": 28, "days_after": 56, "repeats_yearly": True}
    yield YEARLY, _("Yearly check"), dict(yearly)


def timing_of(plan: CheckPlan) -> CheckTiming:
    return CheckTiming(plan.offset_months, plan.offset_days, plan.days_before, plan.days_after)


def window_of(check: Check) -> DueWindow:
    return DueWindow(check.due_on, check.window_from, check.window_to)


@transaction.atomic
def plan_checks(
    *,
    job: Job,
    handed_over_on: date,
    now: datetime,
    last_day: date | None = None,
    not_before: date | None = None,
    handover_look: Visit | None = None,
) -> tuple[Check, ...]:
    """The job's checks, counted from handover; those it has already stay. Safe to call again.

    `last_day`: the last covered day, up to which yearly checks are planned (else only the first).
    `not_before`: leaves out checks whose window closed before that day, as when history is brought in.
    `handover_look`: the finished look of day 0, which settles the handover check; without one it is missed.
    """
    if not CheckPlan.objects.exists():
        add_usual_check_plans(job.shop)
    wanted = [
        _check(job, plan, window, now, handover_look)
        for plan in CheckPlan.objects.filter(retired_at__isnull=True)
        for window in _windows(plan, handed_over_on, last_day)
        if not_before is None or window.closes >= not_before
    ]
    Check.objects.bulk_create(wanted, ignore_conflicts=True)
    checks = tuple(Check.objects.filter(job=job).select_related("plan"))
    _tie_look(checks, handover_look)
    return checks


def _windows(plan: CheckPlan, handed_over_on: date, last_day: date | None) -> Iterator[DueWindow]:
    timing = timing_of(plan)
    yield due_window(handed_over_on, timing)
    if plan.repeats_yearly and last_day is not None:
        repeated = yearly_timings(timing, last_day=last_day, handed_over_on=handed_over_on)
        yield from (due_window(handed_over_on, one) for one in repeated[1:MOST_YEARS])


def _check(job: Job, plan: CheckPlan, window: DueWindow, now: datetime, look: Visit | None) -> Check:
    check = Check(job=job, plan=plan, due_on=window.due, window_from=window.opens, window_to=window.closes)
    if plan.key == HANDOVER:
        check.state = Check.State.DONE if look else Check.State.MISSED
        check.state_why = "" if look else _("Handed over without a look.")
        check.settled_at = now
    return check


def _tie_look(checks: tuple[Check, ...], look: Visit | None) -> None:
    handover = next((check for check in checks if check.plan.key == HANDOVER), None)
    if look is not None and handover is not None and look.check_due_id is None:
        Visit.objects.filter(pk=look.pk, check_due__isnull=True).update(check_due=handover)
