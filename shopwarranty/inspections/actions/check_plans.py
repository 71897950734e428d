"""Editing the plans by which checks are planned. Each change is a version with its line of history."""

from collections.abc import Iterable
from dataclasses import asdict
from datetime import date, datetime, timedelta
from typing import Final

from django.db import transaction
from django.utils.text import slugify

from shopwarranty.shops.history import Actor, record_change
from shopwarranty.shops.models import Change

from ..models import Check, CheckPlan
from ..plan_changes import Effect, PlanValues, Shift, effect_of
from .plans import HANDOVER
from .refusals import PlanFixed, PlanMovedOn

AT_ONCE: Final = 500
OUT_OF_THE_WAY: Final = timedelta(days=365 * 400)
CHANGED: Final = "check plan changed"
TIMING: Final = ("offset_months", "offset_days", "days_before", "days_after")


@transaction.atomic
def add_check_plan(*, values: PlanValues, actor: Actor, now: datetime) -> CheckPlan:
    """For vehicles handed over from now on."""
    plan: CheckPlan = CheckPlan.objects.create(key=_free_key(values.name), **asdict(values))
    record_change(row=plan, act="check plan added", actor=actor, at=now, after=asdict(values))
    return plan


@transaction.atomic
def change_check_plan(
    *, plan: CheckPlan, values: PlanValues, seen_version: int, actor: Actor, now: datetime
) -> tuple[Change | None, Effect]:
    """The plan as said, and its checks without a time moved along. Raises PlanMovedOn, PlanFixed."""
    held = CheckPlan.objects.select_for_update().get(pk=plan.pk)
    before = PlanValues.of(held)
    after = values.changed_from(before)
    if held.key == HANDOVER and {*TIMING, "offered_to_holder", "repeats_yearly"} & set(after):
        raise PlanFixed
    if not after:
        return None, Effect((), 0, 0)
    rows = CheckPlan.objects.filter(pk=held.pk, version=seen_version)
    effect = effect_of(held, values) if set(TIMING) & set(after) else Effect((), 0, 0)
    if not rows.update(**after, version=seen_version + 1):
        raise PlanMovedOn
    _move_along(effect.shifts, now, actor, held.repeats_yearly)
    was = {name: value for name, value in asdict(before).items() if name in after}
    change = record_change(
        row=held, act=CHANGED, actor=actor, at=now, before=was, after={**after, "checks": len(effect.shifts)}
    )
    plan.refresh_from_db()
    return change, effect


@transaction.atomic
def undo_plan_change(*, plan: CheckPlan, change: Change, actor: Actor, now: datetime) -> Effect:
    """What that change said is put back, as a version of its own; checks booked meanwhile keep their day."""
    now_values = asdict(PlanValues.of(plan))
    before = {name: value for name, value in change.before.items() if name in now_values}
    values = PlanValues(**{**now_values, **before})
    return change_check_plan(plan=plan, values=values, seen_version=plan.version, actor=actor, now=now)[1]


@transaction.atomic
def retire_check_plan(*, plan: CheckPlan, actor: Actor, now: datetime) -> None:
    """No more checks are planned by it; those that are planned stay."""
    if plan.key == HANDOVER:
        raise PlanFixed
    if CheckPlan.objects.filter(pk=plan.pk, retired_at__isnull=True).update(retired_at=now):
        record_change(row=plan, act="check plan retired", actor=actor, at=now)


@transaction.atomic
def take_check_plan_up_again(*, plan: CheckPlan, actor: Actor, now: datetime) -> None:
    if CheckPlan.objects.filter(pk=plan.pk, retired_at__isnull=False).update(retired_at=None):
        record_change(row=plan, act="check plan taken up again", actor=actor, at=now)


def _free_key(name: str) -> str:
    wanted = slugify(name)[:20].strip("-") or "check"
    taken = set(CheckPlan.objects.filter(key__startswith=wanted).values_list("key", flat=True))
    keys = (wanted if n == 1 else f"{wanted}-{n}" for n in range(1, 1000))
    return next(key for key in keys if key not in taken)


def _move_along(shifts: Iterable[Shift], now: datetime, actor: Actor, repeats: bool) -> None:
    """A repeated check may take the day that another of its vehicle is leaving: all step aside first."""
    rows = list(shifts)
    fields = ["due_on", "window_from", "window_to"]
    before = {shift.check.pk: shift.check.due_on for shift in rows}
    if repeats:
        for shift in rows:
            _place(shift.check, *(day + OUT_OF_THE_WAY for day in _days(shift)))
        Check.objects.bulk_update([shift.check for shift in rows], fields, batch_size=AT_ONCE)
    for shift in rows:
        _place(shift.check, *_days(shift))
    Check.objects.bulk_update([shift.check for shift in rows], fields, batch_size=AT_ONCE)
    Change.objects.bulk_create(
        (
            Change(
                at=now,
                member=actor.member,
                who=actor.who,
                act="moved with its plan",
                table=Check._meta.db_table,
                row=shift.check.pk,
                before={"due_on": before[shift.check.pk].isoformat()},
                after={"due_on": shift.window.due.isoformat()},
            )
            for shift in rows
        ),
        batch_size=AT_ONCE,
    )


def _days(shift: Shift) -> tuple[date, date, date]:
    return shift.window.due, shift.window.opens, shift.window.closes


def _place(check: Check, due: date, opens: date, closes: date) -> None:
    check.due_on, check.window_from, check.window_to = due, opens, closes
