"""Which places on record belong to a trial: they are in the ordinary review too, labelled."""

from collections import defaultdict
from collections.abc import Collection
from typing import Any

from shopwarranty.defects.models import Life
from shopwarranty.jobs.models import Place

from .models import Draw, Trial
from .planning import fits


def anything_drawn() -> bool:
    return Draw.objects.exists()


def trials_of(places: Collection[int] | None = None) -> dict[int, list[Trial]]:
    """By place, of these places or of all: the trials it was drawn for, alone or with its panel or job.

    Three queries.
    """
    found: dict[int, list[Trial]] = defaultdict(list)
    alone = Draw.objects.filter(place__isnull=False).select_related("trial")
    for draw in alone if places is None else alone.filter(place__in=places):
        found[draw.place_id or 0].append(draw.trial)
    wide: dict[int, list[Draw]] = defaultdict(list)
    for draw in Draw.objects.filter(place__isnull=True).select_related("trial"):
        wide[draw.job_id].append(draw)
    if wide:
        for pk, kind, job, panel in _places_of_wide_draws(places):
            found[pk] += [draw.trial for draw in wide[job] if _concerns(draw, kind, panel)]
    return {pk: trials for pk, trials in found.items() if trials}


def _places_of_wide_draws(places: Collection[int] | None) -> Any:
    jobs = Draw.objects.filter(place__isnull=True).values("job")
    rows = Place.objects.filter(piece__panel_work__job__in=jobs, piece__number=1)
    kept = rows if places is None else rows.filter(pk__in=places)
    columns = ("pk", "kind", "piece__panel_work__job_id", "piece__panel_work__panel")
    return kept.values_list(*columns)


def _concerns(draw: Draw, kind: str, panel: str) -> bool:
    named = draw.panel == panel if draw.panel else fits(draw.trial.panels, panel)
    return bool(named and kind in draw.trial.places)


def lives_in_trials() -> frozenset[int]:
    """Ids of the lives of such places; four queries."""
    places = trials_of()
    rows = Life.objects.filter(job__draws__isnull=False).values_list("pk", "place_id").distinct()
    return frozenset(pk for pk, place in rows if place in places)
