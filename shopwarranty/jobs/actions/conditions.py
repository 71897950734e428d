"""Air, surface and humidity as read at one moment. Nothing is filled in; nothing blocks."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

from django.db import transaction

from shopwarranty.shops.history import Actor, record_change
from shopwarranty.shops.rows import Basis

from ..models import Job, PanelWork, Reading
from .refusals import InTheFuture, ReasonForCorrection, StaleSave


@dataclass(frozen=True, slots=True)
class Conditions:
    """In C and percent; the typed text keeps value and unit as read. None: not measured."""

    air_c: float | None = None
    surface_c: float | None = None
    humidity: float | None = None
    air_typed: str = ""
    surface_typed: str = ""
    instrument: str = ""
    basis: str = Basis.MEASURED


@transaction.atomic
def record_reading(
    *,
    job: Job,
    conditions: Conditions,
    actor: Actor,
    now: datetime,
    at: datetime | None = None,
    panel_work: PanelWork | None = None,
    reason: str = "",
    uid: UUID | None = None,
) -> Reading:
    """A reading of the bay, or of one panel's surface. The same `uid` sent twice is the same reading."""
    if at and at > now:
        raise InTheFuture
    if job.state != Job.State.OPEN and not reason:
        raise ReasonForCorrection
    values = columns(conditions) | {
        "job": job,
        "panel_work": panel_work,
        "at": at or now,
        "member": actor.member,
        "entered_at": now,
    }
    reading, new = Reading.objects.get_or_create(uid=uid or uuid4(), defaults=values)
    if not new:
        return reading
    record_change(
        row=reading,
        act="reading",
        actor=actor,
        at=now,
        after=columns(conditions) | {"at": reading.at},
        why=reason,
    )
    return reading


@transaction.atomic
def correct_reading(
    *,
    reading: Reading,
    conditions: Conditions,
    at: datetime,
    actor: Actor,
    now: datetime,
    version: int,
    reason: str = "",
) -> Reading:
    """A reading typed wrong. What stood there stays in the history."""
    if at > now:
        raise InTheFuture
    if reading.job.state != Job.State.OPEN and not reason:
        raise ReasonForCorrection
    after = columns(conditions) | {"at": at}
    before = {name: getattr(reading, name) for name in after}
    rows = Reading.objects.filter(pk=reading.pk, version=version)
    if not rows.update(**after, version=version + 1):
        raise StaleSave(reading, before, after)
    record_change(
        row=reading, act="reading corrected", actor=actor, at=now, before=before, after=after, why=reason
    )
    return Reading.objects.get(pk=reading.pk)


def columns(conditions: Conditions) -> dict[str, Any]:
    values: dict[str, Any] = {
        "air_typed": conditions.air_typed,
        "surface_typed": conditions.surface_typed,
        "instrument": conditions.instrument,
    }
    for name in ("air_c", "surface_c", "humidity"):
        value = getattr(conditions, name)
        values |= {name: value, f"{name}_basis": "" if value is None else conditions.basis}
    return values
