"""One press on a panel of an open visit taken back: each place says again what it said before."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any, Self

from django.db import transaction

from shopwarranty.inspections import actions as inspections
from shopwarranty.inspections.models import Finding, Visit
from shopwarranty.jobs.models import PanelWork, Place
from shopwarranty.shops.history import Actor

from ..models import Sighting
from .looking import SightSaid
from .sightings import see_defect, take_back_sightings


@dataclass(frozen=True, slots=True)
class PlaceStood:
    """What an open visit said of a place at one moment; `at` tells one answer from the next."""

    result: str
    why_not: str
    said: str
    at: tuple[int, int]
    sights: tuple[SightSaid, ...] = ()

    def as_row(self) -> dict[str, Any]:
        """For a session: plain lists, texts and numbers."""
        return asdict(self)

    @classmethod
    def of_row(cls, row: Mapping[str, Any]) -> Self:
        sights = tuple(SightSaid(**one) for one in row["sights"])
        finding, version = row["at"]
        return cls(row["result"], row["why_not"], row["said"], (finding, version), sights)


def panel_stands(*, visit: Visit, panel_work: PanelWork) -> dict[int, PlaceStood]:
    """By place; one without an answer is not in it. Two queries."""
    findings = visit.findings.filter(place__piece__panel_work=panel_work, corrected_at__isnull=True)
    sights: dict[int, list[SightSaid]] = {}
    for one in Sighting.objects.filter(finding__in=findings).select_related("defect").order_by("pk"):
        sights.setdefault(one.finding_id, []).append(
            SightSaid(one.defect.kind, one.severity, one.extent_mm, one.depth_mm, one.count, one.note)
        )
    return {
        row.place_id: PlaceStood(
            row.result, row.why_not, row.said, (row.pk, row.version), tuple(sights.get(row.pk, ()))
        )
        for row in findings
    }


@transaction.atomic
def undo_press(
    *,
    visit: Visit,
    panel_work: PanelWork,
    before: Mapping[int, PlaceStood],
    after: Mapping[int, PlaceStood],
    actor: Actor,
    now: datetime,
) -> int:
    """From how the panel stood before and after the press: how many places were put back.

    What somebody said since stays. Raises VisitOver, or RemedyThere for a defect put right meanwhile.
    """
    stands = panel_stands(visit=visit, panel_work=panel_work)
    changed = [pk for pk, one in after.items() if before.get(pk) != one and stands.get(pk) == one]
    for place in Place.objects.filter(pk__in=changed).order_by("pk"):
        _put_back(visit, place, before.get(place.pk), actor, now)
    return len(changed)


def _put_back(visit: Visit, place: Place, stood: PlaceStood | None, actor: Actor, now: datetime) -> None:
    finding = Finding.objects.get(visit=visit, place=place, corrected_at__isnull=True)
    take_back_sightings(finding=finding, but=[sight.kind for sight in stood.sights] if stood else ())
    if stood is None:
        inspections.take_back(visit=visit, place=place)
        return
    again = inspections.say_finding(
        visit=visit, place=place, result=stood.result, why_not=stood.why_not, said=stood.said, now=now
    )
    for sight in stood.sights:
        see_defect(finding=again, **asdict(sight), actor=actor, now=now)
