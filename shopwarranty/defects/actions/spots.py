"""Spot proof: before "the rest is clean" counts, two places drawn at random are looked at by themselves."""

import random
from datetime import datetime
from typing import Final

from django.db import transaction
from django.utils.translation import gettext as _

from shopwarranty.inspections import actions as inspections
from shopwarranty.inspections.models import Finding, Visit
from shopwarranty.jobs.models import PanelWork, Photo
from shopwarranty.shops.history import Actor, record_change

from ..models import PanelLook, SpotProof
from .refusals import SpotAnswered

AT_A_TIME: Final = 2


def is_asked(visit: Visit) -> bool:
    """A handover look ends with the handover itself; a photo proves only what it shows."""
    return visit.state == Visit.State.OPEN and not (visit.by_photo or visit.is_handover_look)


def unproved(visit: Visit) -> list[Finding]:
    """Swept findings from which nothing was drawn yet: those said after the last draw."""
    swept = visit.findings.filter(
        said=Finding.Said.SWEPT, result=Finding.Result.CLEAN, corrected_at__isnull=True
    )
    last = visit.spots.order_by("-drawn_at").values_list("drawn_at", flat=True).first()
    return list((swept.filter(at__gt=last) if last else swept).order_by("place_id"))


@transaction.atomic
def draw_spots(*, visit: Visit, now: datetime) -> tuple[SpotProof, ...]:
    """The places still to be looked at again, drawn if need be; none when the sweep is proved.

    The same visit draws the same places: the draw is seeded by its id and how often it was drawn before.
    """
    if not is_asked(visit):
        return ()
    fresh = unproved(visit)
    if fresh:
        draw = random.Random(f"{visit.uid}:{visit.spots.count()}")  # noqa: S311 (a lot to be drawn, no secret)
        chosen = draw.sample(fresh, min(AT_A_TIME, len(fresh)))
        SpotProof.objects.bulk_create(
            SpotProof(visit=visit, place_id=one.place_id, drawn_at=now, drawn_from=len(fresh))
            for one in chosen
        )
    waiting = visit.spots.filter(found="").select_related("place__piece__panel_work")
    return tuple(waiting)


@transaction.atomic
def answer_spot(
    *, spot: SpotProof, is_clean: bool, actor: Actor, now: datetime, photo: Photo | None = None
) -> Finding:
    """What the second look saw is what the visit says of the place. Raises SpotAnswered, VisitOver."""
    found = SpotProof.Found.CLEAN if is_clean else SpotProof.Found.DEFECT
    finding = inspections.say_finding(
        visit=spot.visit,
        place=spot.place,
        result=Finding.Result.CLEAN if is_clean else Finding.Result.DEFECT,
        said=Finding.Said.SPOT_PROVED,
        now=now,
    )
    values = {"found": found, "answered_at": now, "member": actor.member, "photo": photo}
    if not SpotProof.objects.filter(pk=spot.pk, found="").update(**values):
        raise SpotAnswered
    return finding


@transaction.atomic
def forgo_spots(*, visit: Visit, actor: Actor, now: datetime) -> int:
    """The vehicle is gone: what was only swept and never proved counts as not looked at. How many places."""
    waiting = visit.spots.filter(found="")
    since = waiting.order_by("drawn_at").values_list("drawn_at", flat=True).first()
    if since is None:
        return 0
    earlier = visit.spots.exclude(found="").order_by("-drawn_at").values_list("drawn_at", flat=True).first()
    rows = visit.findings.filter(said=Finding.Said.SWEPT, result=Finding.Result.CLEAN)
    if earlier is not None and earlier < since:
        rows = rows.filter(at__gt=earlier)
    gone = rows.update(
        result=Finding.Result.NOT_LOOKED, why_not=_("no second look at two places drawn")[:120], at=now
    )
    waiting.update(found=SpotProof.Found.NOT_SHOWN, answered_at=now, member=actor.member)
    record_change(row=visit, act="sweep not proved", actor=actor, at=now, after={"places": gone})
    return int(gone)


@transaction.atomic
def keep_panel_look(
    *,
    visit: Visit,
    panel_work: PanelWork,
    opened_at: datetime | None,
    now: datetime,
    places: int,
    tapped: int,
    swept: int,
) -> PanelLook:
    """An opening that cannot be (after the saving, before the visit) is left out."""
    known = opened_at if opened_at and visit.started_at <= opened_at <= now else None
    row: PanelLook = PanelLook.objects.create(
        visit=visit,
        panel_work=panel_work,
        opened_at=known,
        saved_at=now,
        places=places,
        tapped=tapped,
        swept=swept,
    )
    return row
