"""Which pairs of places a job offers a trial, in the order in which they are drawn."""

from collections.abc import Iterable, Iterator
from itertools import groupby

from shopwarranty.jobs.models import Job, Place
from shopwarranty.trade.catalogue import opposite, opposite_place

from .models import Draw, Trial, TrialUnit
from .planning import fits

Pair = tuple[Place, Place]


def pairs_on(jobs: Iterable[Job], trial: Trial) -> dict[int, list[Pair]]:
    """By job: pairs not drawn yet, of panels still open, of which nobody has said how they were done.

    Two queries, however many jobs. A job without a pair is left out.
    """
    ids = [job.pk for job in jobs]
    drawn: set[int | None] = set(
        Draw.objects.filter(trial=trial, job__in=ids).values_list("place_id", flat=True)
    )
    rows = (
        Place.objects.filter(
            piece__panel_work__job__in=ids,
            piece__panel_work__finished_at__isnull=True,
            piece__ended_on__isnull=True,
            piece__number=1,
            kind__in=trial.places,
        )
        .select_related("piece__panel_work")
        .order_by("piece__panel_work__job", "piece__panel_work__walk", "walk", "pk")
    )
    free = [place for place in rows if _is_free(place, trial, drawn)]
    paired = _by_sides if trial.unit == TrialUnit.SIDES else _by_panel
    by_job = {
        job: list(paired(list(places)))
        for job, places in groupby(free, key=lambda place: place.piece.panel_work.job_id)
    }
    return {job: pairs for job, pairs in by_job.items() if pairs}


def _is_free(place: Place, trial: Trial, drawn: set[int | None]) -> bool:
    said = getattr(place, f"{trial.field}_basis") == "stated"
    panel = place.piece.panel_work
    return (
        place.pk not in drawn and not said and panel.confirmed_at is None and fits(trial.panels, panel.panel)
    )


def _by_sides(places: Iterable[Place]) -> Iterator[Pair]:
    found = {(place.piece.panel_work.panel, place.key): place for place in places}
    for (panel, key), place in found.items():
        other = opposite(panel)
        twin = found.get((other, key)) or found.get((other, opposite_place(key))) if other else None
        if panel.startswith("left-") and twin is not None:
            yield place, twin


def _by_panel(places: Iterable[Place]) -> Iterator[Pair]:
    for _panel, group in groupby(places, key=lambda place: place.piece.panel_work_id):
        row = list(group)
        yield from zip(row[::2], row[1::2], strict=False)
