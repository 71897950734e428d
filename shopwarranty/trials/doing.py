"""What was really done, recorded beside the draw: as drawn, as the other arm, or as neither."""

from collections.abc import Callable
from datetime import datetime
from functools import partial
from typing import Any

from django.db import transaction

from shopwarranty.jobs.actions import set_job_values, set_panel_values, set_place_values
from shopwarranty.jobs.models import PanelWork, Place
from shopwarranty.jobs.technique_rows import Said, from_text
from shopwarranty.shops.history import Actor, record_change
from shopwarranty.trade.panels import PlaceKind
from shopwarranty.trade.technique import Level, Value

from .models import Draw
from .pairs import places_for
from .planning import fits
from .refusals import AlreadySaid
from .technique import is_own, technique_of

REASON = "trial"


def value_of_arm(draw: Draw) -> str:
    return draw.trial.other_value if draw.arm == Draw.Arm.OTHER else draw.trial.usual_value


@transaction.atomic
def say_done_as_drawn(*, draw: Draw, actor: Actor, now: datetime) -> None:
    """Also states the value where it was done, so that the record and the draw agree. Raises AlreadySaid."""
    held = _unsaid(draw)
    _state(held, value_of_arm(held), actor, now)
    _said(held, Draw.DoneAs.DRAWN, "", actor, now)


@transaction.atomic
def say_done_otherwise(*, draw: Draw, why: str, actor: Actor, now: datetime) -> None:
    """The other arm's way was used. Raises AlreadySaid."""
    held = _unsaid(draw)
    value = held.trial.usual_value if held.arm == Draw.Arm.OTHER else held.trial.other_value
    _state(held, value, actor, now)
    _said(held, Draw.DoneAs.OTHER, why, actor, now)


@transaction.atomic
def say_done_as_neither(*, draw: Draw, why: str, actor: Actor, now: datetime) -> None:
    """Some third way: what it was is recorded where it was done, by whoever did it. Raises AlreadySaid."""
    _said(_unsaid(draw), Draw.DoneAs.NEITHER, why, actor, now)


def _unsaid(draw: Draw) -> Draw:
    held: Draw = (
        Draw.objects.select_for_update(of=("self",)).select_related("trial", "place", "job").get(pk=draw.pk)
    )
    if held.done_as:
        raise AlreadySaid
    return held


def _said(held: Draw, done_as: str, why: str, actor: Actor, now: datetime) -> None:
    Draw.objects.filter(pk=held.pk).update(done_as=done_as, done_why=why, done_at=now)
    record_change(row=held, act="done", actor=actor, at=now, after={"done_as": done_as}, why=why)


def _state(held: Draw, text: str, actor: Actor, now: datetime) -> None:
    field = technique_of(held.trial)
    said: dict[str, Said] = {field.key: Said(_value(held, text))}
    values: dict[str, Any] = {"values": {}, "own": said} if is_own(held.trial) else {"values": said}
    for write in _writers(held):
        write(**values, reason=REASON, actor=actor, now=now)


def _value(held: Draw, text: str) -> Value:
    return from_text(technique_of(held.trial), text)


def _writers(held: Draw) -> list[Callable[..., Any]]:
    """One for each place, panel or job that the draw is about."""
    field = technique_of(held.trial)
    if field.level is Level.JOB:
        return [partial(set_job_values, job=held.job)]
    if field.level is Level.PANEL:
        return [partial(set_panel_values, panel_work=work) for work in panels_of(held)]
    return [
        partial(set_place_values, place=place)
        for place in places_of(held)
        if PlaceKind(place.kind) in field.places
    ]


def places_of(held: Draw) -> list[Place]:
    if held.place is not None:
        return [held.place]
    rows = places_for(held.trial, [held.job_id]).select_related("piece__panel_work")
    return [place for place in rows if _concerns(held, place.piece.panel_work.panel)]


def panels_of(held: Draw) -> list[PanelWork]:
    works = {place.piece.panel_work_id: place.piece.panel_work for place in places_of(held)}
    return list(works.values())


def _concerns(held: Draw, panel: str) -> bool:
    return panel == held.panel if held.panel else fits(held.trial.panels, panel)
