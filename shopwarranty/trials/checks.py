"""A trial's own checks: denser than usual, planned once a vehicle with drawn places is handed over."""

from datetime import datetime, timedelta
from typing import Final

from django.utils.translation import gettext as _

from shopwarranty.inspections.models import Check, CheckPlan
from shopwarranty.jobs.models import Job
from shopwarranty.shops.models import Shop
from shopwarranty.shops.scope import every_shop, shop_scope

from .models import Trial, TrialState

WINDOW: Final = 7
AT_ONCE: Final = 200


def plan_every_shops_checks(now: datetime) -> str:
    """A step of the tick."""
    with every_shop():
        ids = list(
            Trial.objects.exclude(state=TrialState.PLANNED).values_list("shop_id", flat=True).distinct()
        )
    made = 0
    for shop in Shop.objects.filter(pk__in=ids):
        with shop_scope(shop):
            made += plan_trial_checks(now)
    return f"{made} checks of trials planned"


def plan_trial_checks(now: datetime) -> int:
    """Of the shop in scope. Safe to call again: a check that is there stays as it is."""
    before = Check.objects.count()
    for trial in Trial.objects.exclude(state=TrialState.PLANNED):
        jobs = Job.objects.filter(draws__trial=trial, handed_over_on__isnull=False).distinct()
        for day in trial.check_days:
            _plan_day(day, jobs.exclude(checks__plan__key=_key(day))[:AT_ONCE], now)
    return Check.objects.count() - before


def _plan_day(day: int, jobs: object, now: datetime) -> None:
    rows = list(jobs)  # type: ignore[call-overload]
    if not rows:
        return
    plan = _plan(day, now)
    Check.objects.bulk_create(
        [
            Check(
                job=job,
                plan=plan,
                due_on=job.handed_over_on + timedelta(days=day),
                window_from=job.handed_over_on + timedelta(days=max(0, day - WINDOW)),
                window_to=job.handed_over_on + timedelta(days=day + WINDOW),
            )
            for job in rows
        ],
        ignore_conflicts=True,
    )


def _key(day: int) -> str:
    return f"trial-{day}"


def _plan(day: int, now: datetime) -> CheckPlan:
    """Retired from the start: only a trial plans by it, never an ordinary handover."""
    name = _("Check of a trial, day %(day)s: both arms at this visit, photos of both") % {"day": day}
    plan: CheckPlan = CheckPlan.objects.get_or_create(
        key=_key(day),
        defaults={
            "name": name[:80],
            "offset_days": day,
            "days_before": WINDOW,
            "days_after": WINDOW,
            "retired_at": now,
        },
    )[0]
    return plan
