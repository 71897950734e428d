"""How a panel came, what came off it, and what happened while laying."""

from datetime import date, datetime
from typing import Any
from uuid import UUID, uuid4

from django.db import transaction

from shopwarranty.shops.history import Actor, record_change

from ..models import (
    LayingEvent,
    PanelIntake,
    PanelWork,
    Place,
    RemovedItem,
)
from .values import (
    guard_correction,
)
from .vehicles import change_row


@transaction.atomic
def record_intake(
    *,
    panel_work: PanelWork,
    actor: Actor,
    now: datetime,
    substrate: str = "",
    painted_on: date | None = None,
    marks: str = "",
    acknowledged_by: str = "",
    reason: str = "",
) -> PanelIntake:
    """How the panel came, and who was shown its marks. Saying it again corrects it, with history."""
    guard_correction(panel_work.job, panel_work, reason)
    values: dict[str, Any] = {"substrate": substrate, "painted_on": painted_on, "marks": marks}
    intake = PanelIntake.objects.filter(panel_work=panel_work).first()
    if intake is None:
        intake = PanelIntake.objects.create(panel_work=panel_work, at=now, member=actor.member, **values)
        record_change(row=intake, act="intake", actor=actor, at=now, after=values, why=reason)
    else:
        change_row(intake, values, act="intake corrected", actor=actor, now=now, why=reason)
    if acknowledged_by and acknowledged_by != intake.acknowledged_by:
        seen = {"acknowledged_by": acknowledged_by, "acknowledged_at": now}
        change_row(intake, seen, act="marks acknowledged", actor=actor, now=now)
    return intake


@transaction.atomic
def add_removed_item(
    *, panel_work: PanelWork, name: str, actor: Actor, now: datetime, note: str = "", uid: UUID | None = None
) -> RemovedItem:
    """Something came off the vehicle; it has to go back on before handover."""
    values = {"panel_work": panel_work, "name": name.strip(), "note": note}
    item, new = RemovedItem.objects.get_or_create(uid=uid or uuid4(), defaults=values)
    if not new:
        return item
    record_change(row=item, act="part removed", actor=actor, at=now, after={"name": item.name})
    return item


@transaction.atomic
def settle_removed_item(
    *, item: RemovedItem, outcome: str, actor: Actor, now: datetime, note: str = ""
) -> RemovedItem:
    """`refitted`, `replaced` or `given_back`; "" says that it is still off."""
    values: dict[str, Any] = {
        "outcome": outcome,
        "settled_at": now if outcome else None,
        "settled_by": actor.member if outcome else None,
        "note": note or item.note,
    }
    settled: RemovedItem = change_row(item, values, act="part settled", actor=actor, now=now)
    return settled


@transaction.atomic
def note_laying_event(
    *,
    panel_work: PanelWork,
    kind: str,
    actor: Actor,
    now: datetime,
    place: Place | None = None,
    at: datetime | None = None,
    note: str = "",
    uid: UUID | None = None,
) -> LayingEvent:
    """What happened while laying: lifted and laid again, needle, fold, cut again."""
    values = {"panel_work": panel_work, "place": place, "kind": kind, "at": at or now, "note": note}
    event, new = LayingEvent.objects.get_or_create(uid=uid or uuid4(), defaults=values)
    if not new:
        return event
    after = {"kind": kind, "place": place.key if place else "", "note": note}
    record_change(row=event, act="laying event", actor=actor, at=now, after=after)
    return event


@transaction.atomic
def take_back_laying_event(*, event: LayingEvent, actor: Actor, now: datetime, reason: str = "") -> None:
    """It was tapped by mistake; the history keeps it."""
    guard_correction(event.panel_work.job, event.panel_work, reason)
    before = {"kind": event.kind, "note": event.note}
    record_change(
        row=event.panel_work, act="laying event taken back", actor=actor, at=now, before=before, why=reason
    )
    event.delete()
