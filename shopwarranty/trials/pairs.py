"""What a job offers a trial, in the order in which it is drawn: pairs of places or panels, or itself."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from shopwarranty.jobs.models import FieldValue, Job, PanelWork, Place
from shopwarranty.shops.rows import Basis
from shopwarranty.trade.catalogue import opposite, opposite_place
from shopwarranty.trade.technique import Level

from .models import Draw, Trial, TrialUnit
from .planning import fits
from .technique import is_own, technique_of


@dataclass(frozen=True, slots=True)
class Half:
    """A place; without one the panel; without a panel the whole job."""

    panel: str = ""
    place: Place | None = None

    @property
    def place_key(self) -> str:
        return self.place.key if self.place else ""


Offer = tuple[Half, ...]
"""Two halves of a pair, or a whole job alone."""


def pairs_on(jobs: Iterable[Job], trial: Trial) -> dict[int, list[Offer]]:
    """By job: what is not drawn yet, of panels still open, of which nobody has said how it was done.

    Four queries, however many jobs. A job that offers nothing is left out.
    """
    ids = [job.pk for job in jobs]
    drawn = set(Draw.objects.filter(trial=trial, job__in=ids).values_list("job_id", "panel", "place_key"))
    said = _said_already(trial, ids)
    rows = places_for(trial, ids).select_related("piece__panel_work__job")
    by_job = groupby(rows, key=lambda place: place.piece.panel_work.job_id)
    found = {job: list(_offers(trial, job, list(places), drawn, said)) for job, places in by_job}
    return {job: offers for job, offers in found.items() if offers}


def places_for(trial: Trial, jobs: Sequence[int]) -> Any:
    """Places of the trial's kinds on pieces that are still there, in walking order."""
    return places_ever_for(trial, jobs).filter(piece__ended_on__isnull=True)


def places_ever_for(trial: Trial, jobs: Sequence[int]) -> Any:
    """Those on pieces that are gone, too: what was replaced because it failed has failed."""
    return Place.objects.filter(
        piece__panel_work__job__in=jobs, piece__number=1, kind__in=trial.places
    ).order_by("piece__panel_work__job", "piece__panel_work__walk", "walk", "pk")


def _said_already(trial: Trial, jobs: Sequence[int]) -> set[int]:
    """Ids of places, panels or jobs of which somebody has stated the field; one query."""
    level = technique_of(trial).level
    if is_own(trial):
        link = {Level.PLACE: "place", Level.PANEL: "panel_work", Level.JOB: "job"}[level]
        rows = FieldValue.objects.filter(field__key=technique_of(trial).key, basis=Basis.STATED)
        return set(rows.exclude(**{link: None}).values_list(f"{link}_id", flat=True))
    stated = {f"{trial.field}_basis": Basis.STATED}
    if level is Level.JOB:
        return set(Job.objects.filter(pk__in=jobs, **stated).values_list("pk", flat=True))
    if level is Level.PANEL:
        return set(PanelWork.objects.filter(job__in=jobs, **stated).values_list("pk", flat=True))
    return set(Place.objects.filter(piece__panel_work__job__in=jobs, **stated).values_list("pk", flat=True))


Drawn = set[tuple[int, str, str]]


def _offers(trial: Trial, job: int, places: list[Place], drawn: Drawn, said: set[int]) -> Iterator[Offer]:
    meant = [place for place in places if fits(trial.panels, place.piece.panel_work.panel)]
    if trial.unit == TrialUnit.JOBS:
        if meant and (job, "", "") not in drawn and _whole_job_is_free(trial, meant, said):
            yield (Half(),)
        return
    level = technique_of(trial).level
    if level is Level.PANEL:
        works = {place.piece.panel_work_id: place.piece.panel_work for place in meant}
        free = [work.panel for work in works.values() if _is_open(work) and work.pk not in said]
        yield from _panels_by_sides([panel for panel in free if (job, panel, "") not in drawn])
        return
    yield from _pairs_of_places(trial, [place for place in meant if _is_free(place, job, drawn, said)])


def _whole_job_is_free(trial: Trial, places: list[Place], said: set[int]) -> bool:
    """Nothing of what the trial concerns is finished, confirmed or stated."""
    works = {place.piece.panel_work_id: place.piece.panel_work for place in places}
    job = places[0].piece.panel_work.job
    level = technique_of(trial).level
    if not all(_is_open(work) for work in works.values()):
        return False
    if level is Level.JOB:
        return job.confirmed_at is None and job.pk not in said
    return not said.intersection(works if level is Level.PANEL else [place.pk for place in places])


def _is_open(work: PanelWork) -> bool:
    return work.finished_at is None and work.confirmed_at is None


def _is_free(place: Place, job: int, drawn: Drawn, said: set[int]) -> bool:
    work = place.piece.panel_work
    return _is_open(work) and place.pk not in said and (job, work.panel, place.key) not in drawn


def _panels_by_sides(panels: list[str]) -> Iterator[Offer]:
    for panel in panels:
        other = opposite(panel)
        if panel.startswith("left-") and other in panels:
            yield Half(panel), Half(other)


def _pairs_of_places(trial: Trial, free: list[Place]) -> Iterator[Offer]:
    paired = _by_sides if trial.unit == TrialUnit.SIDES else _by_panel
    for one, other in paired(free):
        yield Half(one.piece.panel_work.panel, one), Half(other.piece.panel_work.panel, other)


def _by_sides(places: Iterable[Place]) -> Iterator[tuple[Place, Place]]:
    found = {(place.piece.panel_work.panel, place.key): place for place in places}
    for (panel, key), place in found.items():
        other = opposite(panel)
        twin = found.get((other, key)) or found.get((other, opposite_place(key))) if other else None
        if panel.startswith("left-") and twin is not None:
            yield place, twin


def _by_panel(places: Iterable[Place]) -> Iterator[tuple[Place, Place]]:
    for _panel, group in groupby(places, key=lambda place: place.piece.panel_work_id):
        row = list(group)
        yield from zip(row[::2], row[1::2], strict=False)
