"""What a visit saw, place by place: free to change while it is open, afterwards corrected by a new row."""

from collections.abc import Collection
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.db.models import Max

from shopwarranty.jobs.models import PanelWork, Place
from shopwarranty.shops.history import Actor, record_change

from ..models import Finding, Visit
from ..signals import findings_changed
from .refusals import NotPartOfThis, PhotosDoNotShowIt, ReasonNeeded, VisitOpen, VisitOver
from .visits import live_places

Result, Said = Finding.Result, Finding.Said


@transaction.atomic
def say_finding(
    *,
    visit: Visit,
    place: Place,
    result: str,
    now: datetime,
    why_not: str = "",
    said: str = Said.TAPPED,
    uid: UUID | None = None,
) -> Finding:
    """What was seen at one place, said by itself. Said again it is replaced; the same changes nothing.

    Raises VisitOver, or NotPartOfThis for a place that this visit cannot have looked at.
    """
    _must_be_open(visit)
    if not live_places(visit.job, visit.happened_on).filter(pk=place.pk).exists():
        raise NotPartOfThis(place)
    why = why_not if result == Result.NOT_LOOKED else ""
    finding = Finding.objects.filter(visit=visit, place=place, corrected_at__isnull=True).first()
    if finding is None:
        finding = Finding(visit=visit, place=place, order=_next_order(visit), **({"uid": uid} if uid else {}))
    elif (finding.result, finding.why_not, finding.said) == (result, why, said):
        return finding
    finding.result, finding.why_not, finding.said, finding.at = result, why, said, now
    finding.version += 1 if finding.pk else 0
    finding.save()
    return finding


@transaction.atomic
def take_back(*, visit: Visit, place: Place) -> None:
    """Nothing is said about the place any more. While its sightings stand, the database refuses."""
    _must_be_open(visit)
    Finding.objects.filter(visit=visit, place=place).delete()


@transaction.atomic
def sweep_panel(
    *, visit: Visit, panel_work: PanelWork, now: datetime, among: Collection[int] | None = None
) -> int:
    """The one deliberate act: everything on this panel nobody said anything about was looked at and clean.

    `among`: the places that stood on the page; None: all of the panel. Told apart from places tapped by
    themselves. Raises PhotosDoNotShowIt: a photo proves only what it shows.
    """
    _must_be_open(visit)
    if visit.by_photo:
        raise PhotosDoNotShowIt
    places = live_places(visit.job, visit.happened_on).filter(piece__panel_work=panel_work)
    places = places if among is None else places.filter(pk__in=among)
    silent = places.exclude(findings__in=Finding.objects.filter(visit=visit)).order_by("piece", "walk")
    order = _next_order(visit)
    made = Finding.objects.bulk_create(
        Finding(visit=visit, place=place, result=Result.CLEAN, said=Said.SWEPT, at=now, order=order + number)
        for number, place in enumerate(silent)
    )
    return len(made)


@transaction.atomic
def take_back_sweep(*, visit: Visit, panel_work: PanelWork) -> int:
    """Undoes what was said about this panel with one act; what was tapped stays."""
    _must_be_open(visit)
    swept = Finding.objects.filter(visit=visit, place__piece__panel_work=panel_work, said=Said.SWEPT)
    return int(swept.delete()[0])


@transaction.atomic
def correct_finding(
    *, finding: Finding, result: str, why: str, actor: Actor, now: datetime, why_not: str = ""
) -> Finding:
    """A new row beside the old one, with a reason. Raises VisitOpen while it can simply be changed."""
    if not why.strip():
        raise ReasonNeeded
    held = Finding.objects.select_for_update().get(pk=finding.pk)
    if held.visit.state != Visit.State.FINISHED:
        raise VisitOpen
    if held.corrected_at is not None:
        raise VisitOver
    held.corrected_at = now
    held.save(update_fields=["corrected_at"])
    new: Finding = Finding.objects.create(
        visit=held.visit,
        place=held.place,
        result=result,
        why_not=why_not if result == Result.NOT_LOOKED else "",
        said=Said.TAPPED,
        at=now,
        order=held.order,
        corrects=held,
        correction_why=why[:160],
    )
    record_change(
        row=new,
        act="corrected",
        actor=actor,
        at=now,
        before={"result": held.result},
        after={"result": result},
        why=why,
    )
    findings_changed.send(sender=Finding, job_ids=[held.visit.job_id])
    return new


def _must_be_open(visit: Visit) -> None:
    state = Visit.objects.filter(pk=visit.pk).values_list("state", flat=True).get()
    if state != Visit.State.OPEN:
        raise VisitOver


def _next_order(visit: Visit) -> int:
    last = visit.findings.aggregate(last=Max("order"))["last"]
    return 0 if last is None else int(last) + 1
