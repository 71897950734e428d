"""Writing warranty plans: a version is a draft until it is published, and never changes afterwards."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import Max

from shopwarranty.shops.history import Actor, record_change

from .models import CoverLine, Plan, PlanVersion

ACCEPTED = "legal warning accepted"


class PlanRefusal(Exception):
    """An act on a plan that is not possible as asked; nothing was written."""


class PlanNameTaken(PlanRefusal):
    """Another plan has this name."""


class AlreadyPublished(PlanRefusal):
    """A published version never changes; write a new one."""


class PromisesNothing(PlanRefusal):
    """A plan without a cover line cannot be published."""


class ReasonForWarning(PlanRefusal):
    """The checklist warns about the text, and an owner has not said why it stands all the same."""

    def __init__(self, identifiers: Sequence[str]) -> None:
        super().__init__(", ".join(identifiers))
        self.identifiers = tuple(identifiers)


@transaction.atomic
def add_plan(*, name: str, actor: Actor, now: datetime) -> Plan:
    """Raises PlanNameTaken. The first plan of a shop is its usual one."""
    if Plan.objects.filter(name__iexact=name.strip()).exists():
        raise PlanNameTaken
    first = not Plan.objects.filter(is_usual=True).exists()
    plan = Plan.objects.create(name=name.strip(), is_usual=first)
    record_change(row=plan, act="plan added", actor=actor, at=now, after={"name": plan.name})
    return plan


@transaction.atomic
def write_draft(
    *,
    plan: Plan,
    words: Mapping[str, Any],
    lines: Sequence[Mapping[str, Any]],
    actor: Actor,
    now: datetime,
) -> PlanVersion:
    """Saves the plan's one draft, made now if there is none; cover lines take the order they are given in."""
    draft = plan.versions.filter(published_at__isnull=True).first()
    if draft is None:
        last = plan.versions.aggregate(last=Max("number"))["last"] or 0
        draft = PlanVersion(plan=plan, number=last + 1)
    for name, value in words.items():
        setattr(draft, name, value)
    draft.written_by, draft.written_at = actor.member, now
    draft.save()
    draft.lines.all().delete()
    CoverLine.objects.bulk_create(
        CoverLine(plan_version=draft, position=position, **line) for position, line in enumerate(lines, 1)
    )
    return draft


@transaction.atomic
def publish(
    *,
    version: PlanVersion,
    warned: Sequence[str],
    reasons: Mapping[str, str],
    actor: Actor,
    now: datetime,
) -> None:
    """From now on certificates may be issued on it. `warned`: items the checklist warns about.

    Raises PromisesNothing, AlreadyPublished or ReasonForWarning.
    """
    if not version.lines.exists():
        raise PromisesNothing
    unanswered = [identifier for identifier in warned if not reasons.get(identifier, "").strip()]
    if unanswered:
        raise ReasonForWarning(unanswered)
    changed = PlanVersion.objects.filter(pk=version.pk, published_at__isnull=True).update(published_at=now)
    if not changed:
        raise AlreadyPublished
    version.published_at = now
    record_change(row=version, act="plan published", actor=actor, at=now, after={"number": version.number})
    for identifier in warned:
        record_change(
            row=version,
            act=ACCEPTED,
            actor=actor,
            at=now,
            after={"item": identifier},
            why=reasons[identifier],
        )


@transaction.atomic
def make_usual(*, plan: Plan, actor: Actor, now: datetime) -> None:
    """The plan offered first at handover."""
    Plan.objects.filter(is_usual=True).exclude(pk=plan.pk).update(is_usual=False)
    if Plan.objects.filter(pk=plan.pk, is_usual=False).update(is_usual=True, retired_at=None):
        record_change(row=plan, act="usual plan", actor=actor, at=now)


@transaction.atomic
def retire_plan(*, plan: Plan, actor: Actor, now: datetime) -> None:
    """Not offered any more; certificates issued on it stay as they are."""
    if Plan.objects.filter(pk=plan.pk, retired_at__isnull=True).update(retired_at=now, is_usual=False):
        record_change(row=plan, act="plan retired", actor=actor, at=now)


def published_versions() -> list[PlanVersion]:
    """The latest published version of every plan on offer, the usual plan first."""
    rows = PlanVersion.objects.filter(published_at__isnull=False, plan__retired_at__isnull=True)
    rows = rows.select_related("plan").order_by("-plan__is_usual", "plan__name", "-number")
    latest: dict[int, PlanVersion] = {}
    for row in rows:
        latest.setdefault(row.plan_id, row)
    return list(latest.values())


def usual_version() -> PlanVersion | None:
    return next(iter(published_versions()), None)
