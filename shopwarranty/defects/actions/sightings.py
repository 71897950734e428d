"""What is wrong at a place: a new defect, or one more sighting of an open one."""

from collections.abc import Collection
from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.db.models import Q
from django.utils.translation import gettext as _

from shopwarranty.inspections.models import Finding, Visit
from shopwarranty.jobs.models import Photo, Place
from shopwarranty.shops.history import Actor, move_state, next_number, record_change
from shopwarranty.shops.models import Shop

from ..kinds import KindsOfShop
from ..models import Defect, DefectPhoto, Sighting
from .refusals import NoSeverity, NotOpen, NotWrong, RemedyThere, UnknownKind

SERIES = "defect"


@transaction.atomic
def see_defect(
    *,
    finding: Finding,
    kind: str,
    severity: int,
    actor: Actor,
    now: datetime,
    extent_mm: float | None = None,
    depth_mm: float | None = None,
    count: int | None = None,
    note: str = "",
    uid: UUID | None = None,
) -> Defect:
    """Adds a sighting to the open defect of that place and kind; where there is none, a new defect.

    One that could not be found again is open again. After a remedy it is a new defect that names the old one;
    not so when the same look only says once more what it said before the remedy.
    Raises NotWrong, UnknownKind or NoSeverity.
    """
    kinds = KindsOfShop(Shop.objects.get(pk=finding.shop_id))
    if finding.result != Finding.Result.DEFECT or finding.corrected_at is not None:
        raise NotWrong
    if not kinds.knows(kind):
        raise UnknownKind(kind)
    if not 1 <= severity <= 4:
        raise NoSeverity
    defect = (
        _of_corrected(finding, kind)
        or _standing(finding.place, kind, actor, now)
        or _seen_before(finding, kind)
        or _new(finding, kind, kinds, now, actor)
    )
    seen = {
        "extent_mm": extent_mm,
        "depth_mm": depth_mm,
        "count": count,
        "severity": kinds.least_severity(kind, severity),
        "note": note,
    }
    fixed = {"uid": uid} if uid else {}
    Sighting.objects.update_or_create(
        defect=defect, finding=finding, defaults=seen, create_defaults={**seen, **fixed}
    )
    return defect


@transaction.atomic
def take_back_sightings(*, finding: Finding, but: Collection[str] = ()) -> None:
    """A slip of the finger while the visit is open: these were not seen. `but`: kinds that were.

    A defect no finished visit ever saw goes with its sighting. Raises RemedyThere.
    """
    for sighting in finding.sightings.exclude(defect__kind__in=but).select_related("defect"):
        defect = sighting.defect
        if defect.remedies.exists():
            raise RemedyThere
        sighting.delete()
        if not defect.sightings.exists():
            DefectPhoto.objects.filter(defect=defect).delete()
            defect.delete()


@transaction.atomic
def add_photo(*, defect: Defect, photo: Photo) -> None:
    DefectPhoto.objects.get_or_create(defect=defect, photo=photo)


def earlier_places(place: Place) -> list[int]:
    """The place and those of the pieces that were here before it."""
    found, piece = [place.pk], place.piece
    while piece.replaces is not None:
        piece = piece.replaces
        found += piece.places.filter(key=place.key).values_list("pk", flat=True)
    return found


def _standing(place: Place, kind: str, actor: Actor, now: datetime) -> Defect | None:
    of_kind = Defect.objects.filter(place=place, kind=kind)
    defect: Defect | None = of_kind.filter(state=Defect.State.OPEN).first()
    if defect is not None:
        return defect
    last: Defect | None = of_kind.order_by("-found_on", "-pk").first()
    if last is None or last.state != Defect.State.NOT_REPRODUCED:
        return None
    why = _("Seen again.")
    move_state(
        last,
        old=Defect.State.NOT_REPRODUCED,
        new=Defect.State.OPEN,
        actor=actor,
        at=now,
        why=why,
        verified=None,
        verified_by_id=None,
        verified_at=None,
    )
    return last


def day_of(visit: Visit, now: datetime) -> date:
    """A handover look may go on over days; every other visit is of one day."""
    zone = visit.shop.zone
    began, today = visit.started_at.astimezone(zone).date(), now.astimezone(zone).date()
    going_on = visit.is_handover_look and visit.state == Visit.State.OPEN and began == visit.happened_on
    return max(visit.happened_on, today) if going_on else visit.happened_on


@transaction.atomic
def fails_again(*, defect: Defect, severity: int, actor: Actor, now: datetime, note: str = "") -> Defect:
    """Put right, and wrong again before the look that found it was finished: a new defect beside the old one.

    Raises NotOpen where no look is open any more: then the next visit sees it.
    """
    last = Sighting.objects.filter(defect=defect, finding__visit__state=Visit.State.OPEN)
    seen = last.select_related("finding__visit__shop", "finding__place").first()
    if defect.state != Defect.State.REMEDIED or seen is None:
        raise NotOpen
    if not 1 <= severity <= 4:
        raise NoSeverity
    kinds = KindsOfShop(Shop.objects.get(pk=defect.shop_id))
    new = _new(seen.finding, defect.kind, kinds, now, actor)
    least = kinds.least_severity(defect.kind, severity)
    Sighting.objects.create(defect=new, finding=seen.finding, severity=least, note=note)
    return new


def _of_corrected(finding: Finding, kind: str) -> Defect | None:
    """A finding put right still speaks of the defect it spoke of, whatever was done about that since."""
    if finding.corrects is None:
        return None
    return Defect.objects.filter(sightings__finding=finding.corrects, kind=kind).order_by("-pk").first()


def _seen_before(finding: Finding, kind: str) -> Defect | None:
    """What this look saw itself, though it was put right while the look was still open."""
    return Defect.objects.filter(sightings__finding=finding, kind=kind).order_by("-pk").first()


def _new(finding: Finding, kind: str, kinds: KindsOfShop, now: datetime, actor: Actor) -> Defect:
    visit: Visit = finding.visit
    before = Defect.objects.filter(place__in=earlier_places(finding.place), kind=kind)
    put_right = before.filter(Q(state=Defect.State.REMEDIED) | Q(state=Defect.State.ENDED))
    defect = Defect.objects.create(
        number=f"D{next_number(SERIES):04d}",
        place=finding.place,
        kind=kind,
        kind_words=kinds.named(kind)[:80],
        found_on=day_of(visit, now),
        at_handover=visit.is_handover_look,
        recurrence_of=put_right.order_by("-found_on", "-pk").first(),
    )
    record_change(row=defect, act="defect seen", actor=actor, at=now, after={"kind": kind})
    return defect
