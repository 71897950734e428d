"""What the answer page and its paper show."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from shopwarranty.analysis.trial_pooling import Pooled
from shopwarranty.analysis.trial_sequence import Said
from shopwarranty.jobs.models import Job
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.web.trade_names import first_upper

from .actions import burdened
from .models import Draw, Trial, TrialState
from .pairs import pairs_on
from .results import pooled_of, results_of
from .words import Line, answer_lines, answer_words, arm_words, drawn_place_words, interval_words

JOBS_SHOWN = 20


@dataclass(frozen=True, slots=True)
class JobToDraw:
    job: Job
    pairs: int
    burdens: bool


@dataclass(frozen=True, slots=True)
class PlaceRow:
    pair: int
    half: str
    job: Job
    where: str
    panel_id: int


@dataclass(frozen=True, slots=True)
class PooledRow:
    name: str
    ours: bool
    lines: tuple[Line, ...]


def answer_page(trial: Trial) -> dict[str, Any]:
    """Nothing of a person, a vehicle or a day is in it, so that it can be shared."""
    results = results_of(trial)
    pooled = pooled_of(trial, results.file)
    said = results.as_drawn.standing.said
    return {
        "trial": trial,
        "heading": answer_words(trial, results.as_drawn),
        "usual": arm_words(trial, trial.usual_value),
        "other": arm_words(trial, trial.other_value),
        "as_drawn": answer_lines(results.as_drawn),
        "as_done": answer_lines(results.as_done),
        "as_done_words": answer_words(trial, results.as_done),
        "results": results,
        "running": trial.state == TrialState.RUNNING,
        "settled": said not in (Said.RUNNING, Said.CANNOT_SAY),
        "pooled": pooled,
        "pooled_lines": answer_lines(pooled.together) if pooled else [],
        "pooled_words": answer_words(trial, pooled.together) if pooled else "",
        "pooled_rows": pooled_rows(pooled, trial) if pooled else [],
    }


def pooled_rows(pooled: Pooled, trial: Trial) -> list[PooledRow]:
    rows = []
    for number, (file, alone) in enumerate(pooled.each, start=1):
        counts = alone.standing.counts
        said = (
            Line("pairs", str(alone.pairs)),
            Line("other", str(counts.other)),
            Line("usual", str(counts.usual)),
            Line("interval", interval_words(alone.standing.interval)),
        )
        rows.append(PooledRow(str(number), file.key == trial.key.hex, said))
    return rows


def jobs_to_draw(trial: Trial) -> list[JobToDraw]:
    """Open jobs that still offer a pair, the newest first."""
    if trial.state != TrialState.RUNNING:
        return []
    jobs = list(Job.objects.still_open().with_vehicle()[:JOBS_SHOWN])
    pairs = pairs_on(jobs, trial)
    without_consent = burdened(trial, [job.vehicle for job in jobs])
    return [
        JobToDraw(job, len(pairs[job.pk]), job.vehicle_id in without_consent)
        for job in jobs
        if job.pk in pairs
    ]


def place_rows(draws: Iterable[Draw], catalogue: ShopCatalogue) -> list[PlaceRow]:
    """Halves in the order of the place's number, which says nothing about the arm."""
    ordered = sorted(draws, key=lambda draw: (draw.pair, draw.place_id or 0))
    return [
        PlaceRow(
            draw.pair,
            "AB"[number % 2],
            draw.job,
            first_upper(drawn_place_words(draw, catalogue)),
            draw.place.piece.panel_work_id if draw.place else 0,
        )
        for number, draw in enumerate(ordered)
    ]
