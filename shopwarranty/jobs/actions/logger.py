"""Readings of a job taken from a temperature logger's file."""

import uuid
from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Final

from django.db import transaction

from shopwarranty.shops.history import Actor, record_change
from shopwarranty.shops.rows import Basis
from shopwarranty.trade.units import Unit, celsius

from ..logger_file import Line, humidity_from_dew, thinned
from ..models import Job, Reading
from .conditions import Conditions, columns
from .refusals import ReasonForCorrection

EVERY: Final = timedelta(minutes=10)
BEFORE: Final = timedelta(hours=1)


def of_this_job(job: Job, lines: Iterable[Line], now: datetime) -> tuple[Line, ...]:
    """From an hour before it began until its last panel was finished, or until now; one in ten minutes."""
    ends = list(job.panels.values_list("finished_at", flat=True))
    known = [at for at in ends if at is not None]
    until = max(known) if known and len(known) == len(ends) else now
    return thinned([line for line in lines if job.started_at - BEFORE <= line.at <= min(until, now)], EVERY)


@transaction.atomic
def import_readings(
    *, job: Job, lines: Iterable[Line], unit: Unit, actor: Actor, now: datetime, reason: str = ""
) -> int:
    """How many came in; the same file twice keeps each reading once."""
    if job.state != Job.State.OPEN and not reason:
        raise ReasonForCorrection
    rows = [reading_of(job, line, unit, actor, now) for line in lines]
    there = set(Reading.objects.filter(uid__in=[row.uid for row in rows]).values_list("uid", flat=True))
    made = Reading.objects.bulk_create(row for row in rows if row.uid not in there)
    if made:
        after = {"readings": len(made), "from": made[0].at, "to": made[-1].at}
        record_change(row=job, act="logger file", actor=actor, at=now, after=after, why=reason)
    return len(made)


def reading_of(job: Job, line: Line, unit: Unit, actor: Actor, now: datetime) -> Reading:
    conditions = conditions_of(line, unit)
    name = f"{job.uid}:{line.at.isoformat()}:{line.air}:{line.surface}"
    return Reading(
        job=job,
        uid=uuid.uuid5(job.uid, name),
        at=line.at,
        member=actor.member,
        entered_at=now,
        **columns(conditions),
    )


def conditions_of(line: Line, unit: Unit) -> Conditions:
    air, surface, dew = (
        None if one is None else celsius(one, unit) for one in (line.air, line.surface, line.dew)
    )
    humidity = line.humidity
    if humidity is None and air is not None and dew is not None:
        humidity = humidity_from_dew(air, dew)
    return Conditions(
        air_c=air,
        surface_c=surface,
        humidity=humidity,
        air_typed="" if line.air is None else f"{line.air:g} {unit}",
        surface_typed="" if line.surface is None else f"{line.surface:g} {unit}",
        instrument="logger",
        basis=Basis.IMPORTED,
    )
