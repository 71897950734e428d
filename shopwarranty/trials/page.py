"""What the answer page and its paper show."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.translation import gettext as _

from shopwarranty.analysis.trial_pooling import Pooled
from shopwarranty.analysis.trial_sequence import Said
from shopwarranty.jobs.models import Job
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.shops.models import Change
from shopwarranty.web.formats import full_date
from shopwarranty.web.nav import address
from shopwarranty.web.trade_names import first_upper, is_american

from .actions import LEARNT, burdened
from .forms import PLACE_KINDS, defect_kinds, panel_kinds
from .models import Draw, Trial, TrialState, TrialUnit
from .pairs import pairs_on
from .results import pooled_of, results_of
from .words import (
    Line,
    answer_lines,
    answer_words,
    arm_words,
    done_words,
    drawn_words,
    interval_words,
    p_words,
)

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
    panel_id: int | None


@dataclass(frozen=True, slots=True)
class PooledRow:
    name: str
    ours: bool
    lines: tuple[Line, ...]


def answer_page(trial: Trial, today: date) -> dict[str, Any]:
    """Nothing of a person, a vehicle or a day is in it, so that it can be shared."""
    results = results_of(trial, today)
    pooled = pooled_of(trial, results.file)
    said = results.as_drawn.standing.said
    return {
        "trial": trial,
        "heading": answer_words(trial, results.as_drawn),
        "usual": arm_words(trial, trial.usual_value),
        "other": arm_words(trial, trial.other_value),
        "as_drawn": answer_lines(results.as_drawn),
        "as_done": answer_lines(results.as_done),
        "as_done_words": done_words(trial, results.as_done),
        "repeat": repeat_lines(trial),
        "ratio": f"{trial.ratio_that_matters:g}",
        "of_jobs": trial.unit == TrialUnit.JOBS,
        "results": results,
        "running": trial.state == TrialState.RUNNING,
        "settled": said not in (Said.RUNNING, Said.CANNOT_SAY),
        "pooled": pooled,
        "pooled_lines": answer_lines(pooled.together) if pooled else [],
        "agree": p_words(pooled.agree_p) if pooled and pooled.agree_p is not None else "",
        "pooled_words": answer_words(trial, pooled.together) if pooled else "",
        "pooled_rows": pooled_rows(pooled, trial) if pooled else [],
    }


def repeat_lines(trial: Trial) -> list[Line]:
    """What another shop has to choose alike."""
    american = is_american(trial.shop)
    places = [str(words) for key, words in PLACE_KINDS if key in trial.places]
    panels = [panel_kinds(american).get(kind, kind) for kind in trial.panels]
    kinds = [defect_kinds(american).get(kind, kind) for kind in trial.defect_kinds]
    return [
        Line(_("Kinds of place"), first_upper(", ".join(places))),
        Line(_("Panels"), ", ".join(panels) or _("All")),
        Line(_("What counts"), ", ".join(kinds) or _("Every defect that the shop counts as a failure")),
    ]


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


@dataclass(frozen=True, slots=True)
class Learnt:
    """A version of a method that took over the other way; `watched_url` compares before and since."""

    words: str
    url: str
    watched_url: str


def learnt_from(trial: Trial) -> list[Learnt]:
    """The newest first; one query."""
    rows = Change.objects.filter(table=Trial._meta.db_table, row=trial.pk, act=LEARNT)
    return [_learnt(row, trial) for row in rows]


def _learnt(row: Change, trial: Trial) -> Learnt:
    day = row.at.astimezone(trial.shop.zone).date()
    named = {"method": row.after["method"], "number": row.after["number"]}
    text = _("%(method)s, version %(number)s, since %(day)s")
    watched = address("review-change", trial.shop.slug)
    return Learnt(
        words=text % {**named, "day": full_date(day, trial.shop)},
        url=address("method-version", trial.shop.slug, row.after["version"]),
        watched_url=f"{watched}?on={day.isoformat()}" if watched else "",
    )


def jobs_to_draw(trial: Trial) -> list[JobToDraw]:
    """Open jobs that still offer a pair, or themselves, the newest first."""
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


def blind_order(draw: Draw) -> tuple[int, int, str]:
    return draw.pair, draw.place_id or 0, draw.panel


def place_rows(draws: Iterable[Draw], catalogue: ShopCatalogue) -> list[PlaceRow]:
    """Halves in the order of the place's number, which says nothing about the arm."""
    ordered = sorted(draws, key=blind_order)
    return [
        PlaceRow(
            draw.pair,
            "" if draw.panel == "" else "AB"[number % 2],
            draw.job,
            first_upper(drawn_words(draw, catalogue)),
            draw.place.piece.panel_work_id if draw.place else None,
        )
        for number, draw in enumerate(ordered)
    ]
