"""A visit as the installer goes through it: one panel saved at a time, finished as a whole."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from django.db import transaction
from django.db.models import F, Q
from django.utils.text import slugify

from shopwarranty.inspections import actions as inspections
from shopwarranty.inspections.models import Finding, Visit
from shopwarranty.jobs.actions import add_place
from shopwarranty.jobs.models import FilmPiece, PanelWork, Place
from shopwarranty.shops.history import Actor, record_change
from shopwarranty.shops.models import Change

from ..lives import rebuild_lives
from ..models import Defect
from ..walk import places_of
from .judging import never_there
from .refusals import NameMissing, NotDescribed
from .sightings import see_defect, take_back_sightings

NOT_OURS: Final = "not our film"


@dataclass(frozen=True, slots=True)
class SightSaid:
    """One defect as somebody describes it."""

    kind: str
    severity: int
    extent_mm: float | None = None
    depth_mm: float | None = None
    count: int | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class PlaceSaid:
    """What was said about one place. `result` empty: nothing, or no longer anything."""

    place: Place
    result: str
    why_not: str = ""
    sights: tuple[SightSaid, ...] = ()


@transaction.atomic
def save_panel(
    *,
    visit: Visit,
    panel_work: PanelWork,
    said: Sequence[PlaceSaid],
    actor: Actor,
    now: datetime,
    sweep: bool = False,
    among: Collection[int] | None = None,
) -> int:
    """Everything said about one panel. With `sweep`, the rest of it was looked at and clean: how many places.
    `among`: the places that stood on the page.

    Raises what `say_finding`, `see_defect` and `sweep_panel` raise; then nothing of the panel is saved.
    """
    for one in said:
        say_place(visit=visit, said=one, actor=actor, now=now)
    if not sweep:
        return 0
    return inspections.sweep_panel(visit=visit, panel_work=panel_work, now=now, among=among)


@transaction.atomic
def say_place(*, visit: Visit, said: PlaceSaid, actor: Actor, now: datetime) -> Finding | None:
    """One place: its finding, and what is wrong there, which is exactly what is said now."""
    before = Finding.objects.filter(visit=visit, place=said.place, corrected_at__isnull=True).first()
    wrong = said.result == Finding.Result.DEFECT
    if before is not None:
        take_back_sightings(finding=before, but=[sight.kind for sight in said.sights] if wrong else ())
    if not said.result:
        inspections.take_back(visit=visit, place=said.place)
        return None
    finding = inspections.say_finding(
        visit=visit,
        place=said.place,
        result=said.result,
        why_not=said.why_not,
        said=_how(before, said),
        now=now,
    )
    seen = _seen_at(finding)
    for sight in said.sights if wrong else ():
        _see(finding, sight, actor, now)
    if _seen_at(finding) != seen:
        Finding.objects.filter(pk=finding.pk).update(version=F("version") + 1)
    return finding


def _seen_at(finding: Finding) -> set[tuple[object, ...]]:
    rows = finding.sightings.values_list("defect__kind", "severity", "extent_mm", "depth_mm", "count", "note")
    return set(rows)


def _how(before: Finding | None, said: PlaceSaid) -> str:
    """What was swept stays swept while nobody says anything else of that place."""
    if before is not None and before.result == said.result:
        return before.said
    return Finding.Said.TAPPED


def _see(finding: Finding, sight: SightSaid, actor: Actor, now: datetime) -> Defect:
    return see_defect(
        finding=finding,
        kind=sight.kind,
        severity=sight.severity,
        extent_mm=sight.extent_mm,
        depth_mm=sight.depth_mm,
        count=sight.count,
        note=sight.note,
        actor=actor,
        now=now,
    )


@transaction.atomic
def finish_look(
    *, visit: Visit, actor: Actor, now: datetime, note: str | None = None, signed_name: str = ""
) -> Visit:
    """Closes the visit. Raises NotDescribed while a place is wrong and nobody said how."""
    bare = visit.findings.filter(
        result=Finding.Result.DEFECT, corrected_at__isnull=True, sightings__isnull=True
    )
    if places := [finding.place for finding in bare.select_related("place__piece__panel_work")]:
        raise NotDescribed(places)
    kept = None if note is None else with_lines_kept(visit, note)
    shown = [place.pk for place in places_of(visit)]
    return inspections.finish_visit(
        visit=visit, actor=actor, now=now, note=kept, signed_name=signed_name, shown=shown
    )


def with_lines_kept(visit: Visit, note: str) -> str:
    """The note as typed, with what was noted of film that is not ours meanwhile: that is a finding."""
    noted = Change.objects.filter(table=Visit._meta.db_table, row=visit.pk, act=NOT_OURS).order_by("pk")
    lines = [_line(each.after.get("panel", ""), each.after.get("words", "")) for each in noted]
    return "\n".join([note, *(line for line in lines if line not in note)]).strip()


def _line(panel: str, words: str) -> str:
    return f"{panel}: {words}".strip(": ")


@transaction.atomic
def correct_place(*, finding: Finding, said: PlaceSaid, why: str, actor: Actor, now: datetime) -> Finding:
    """After the visit: a new row beside the old one, with what is wrong there as it should have been said."""
    new = inspections.correct_finding(
        finding=finding, result=said.result, why_not=said.why_not, why=why, actor=actor, now=now
    )
    for sight in said.sights if said.result == Finding.Result.DEFECT else ():
        _see(new, sight, actor, now)
    _withdraw_unseen(finding, why, actor, now)
    rebuild_lives([new.visit.job_id])
    return new


def _withdraw_unseen(finding: Finding, why: str, actor: Actor, now: datetime) -> None:
    """Defects that only the corrected finding ever saw are not there."""
    seen = Q(sightings__finding__corrected_at__isnull=True)
    for defect in Defect.objects.filter(sightings__finding=finding).exclude(
        pk__in=Defect.objects.filter(seen, place=finding.place).values("pk")
    ):
        never_there(defect=defect, actor=actor, now=now, why=why)


@transaction.atomic
def found_unrecorded(
    *, visit: Visit, piece: FilmPiece, kind: str, name: str, actor: Actor, now: datetime
) -> Place:
    """A place the record of the job does not have. It comes under record on the day of this visit."""
    if not name.strip():
        raise NameMissing
    return add_place(
        piece=piece,
        key=slugify(name)[:40] or "unnamed",
        kind=kind,
        name=name.strip()[:80],
        added_on=visit.happened_on,
        actor=actor,
        now=now,
    )


@transaction.atomic
def note_not_ours(*, visit: Visit, panel: str, words: str, actor: Actor, now: datetime) -> None:
    """A panel this job put no film on: noted with the visit, under no cover, in no figure."""
    line = _line(panel, words)
    Visit.objects.filter(pk=visit.pk).update(note=f"{visit.note}\n{line}".strip())
    visit.refresh_from_db(fields=["note"])
    record_change(row=visit, act=NOT_OURS, actor=actor, at=now, after={"panel": panel, "words": words})
