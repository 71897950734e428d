"""What a trial would take, before anything is laid: from the shop's own failure curve and its pace."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import log

import numpy as np

from shopwarranty.analysis.curve import shares_failed
from shopwarranty.analysis.exposure import NEVER, Lives
from shopwarranty.analysis.paired_size import DAYS_A_MONTH, Outlook, discordant_share, outlook
from shopwarranty.analysis.trial_sequence import discordant_needed
from shopwarranty.defects.models import Life
from shopwarranty.jobs.models import Place
from shopwarranty.trade.catalogue import kind_of, opposite
from shopwarranty.trade.technique import Level

from .models import TrialUnit

PACE_DAYS = 182
MOST_LIVES = 200_000


@dataclass(frozen=True, slots=True)
class Asked:
    """What is compared and what counts, as far as the numbers depend on it. Empty panels: every panel."""

    unit: str
    level: Level
    place_kinds: tuple[str, ...]
    panels: tuple[str, ...]
    by_day: int
    ratio: float


@dataclass(frozen=True, slots=True)
class Forecast:
    """`usual_fails`: share of places, panels or jobs failed by the day, None where that cannot be known.

    Pairs are jobs where jobs are compared.
    """

    unit: str
    level: Level
    usual_fails: float | None
    lives: int
    pairs_a_month: float
    outlook: Outlook


def forecast(asked: Asked, today: date) -> Forecast:
    """Two queries. A shop without failures on record is told that it cannot know."""
    lives = _lives(asked)
    share = shares_failed(lives, [asked.by_day])[0] if len(lives) else None
    fails = share.estimate if share is not None and not share.limit_only else None
    pace = pairs_a_month(asked, today)
    apart = _counting_share(asked, fails) if fails else 0.0
    return Forecast(
        unit=asked.unit,
        level=asked.level,
        usual_fails=fails,
        lives=len(lives),
        pairs_a_month=pace,
        outlook=outlook(discordant_needed(asked.ratio), apart, pace, asked.by_day),
    )


def _counting_share(asked: Asked, usual_fails: float) -> float:
    """Share of pairs whose halves differ; of jobs, what one brings over what a failing one would alone."""
    if asked.unit != TrialUnit.JOBS:
        return discordant_share(usual_fails, asked.ratio)
    other_fails = 1 - (1 - usual_fails) ** asked.ratio
    fails = min(0.999, (usual_fails + other_fails) / 2)
    return float(
        (1 - fails) * log(1 - fails) ** 2 / fails
    )  # a job seen once: all fail alike, nothing is learnt


def _lives(asked: Asked) -> Lives:
    """Of what a draw is about: places, panels or jobs, the latter failing with the first of their places."""
    rows = Life.objects.filter(place__kind__in=asked.place_kinds, number=1).order_by("pk")
    columns = (
        "entry_day",
        "clean_day",
        "failed_day",
        "job__vehicle_id",
        "job_id",
        "place__piece__panel_work__panel",
    )
    kept = [row for row in rows.values_list(*columns)[:MOST_LIVES] if fits(asked.panels, row[-1])]
    lives = [_life(row) for row in kept] if _by_place(asked) else _joined(asked, kept)
    table = np.array(lives, dtype=np.int64).reshape(len(lives), 4)
    return Lives(*(np.ascontiguousarray(table[:, column]) for column in range(4)))


def _by_place(asked: Asked) -> bool:
    return asked.level is Level.PLACE and asked.unit != TrialUnit.JOBS


Row = tuple[int, int | None, int | None, int, int, str]
Life4 = tuple[int, int, int, int]


def _life(row: Row) -> Life4:
    entry, clean, failed, vehicle, *_ = row
    return entry, NEVER if clean is None else clean, NEVER if failed is None else failed, vehicle


def _joined(asked: Asked, rows: Sequence[Row]) -> list[Life4]:
    """Clean while every place looked at was; places nobody looked at say nothing."""
    units: dict[tuple[int, str], list[Row]] = {}
    for row in rows:
        if row[1] is not None or row[2] is not None:
            units.setdefault((row[4], "" if asked.unit == TrialUnit.JOBS else row[5]), []).append(row)
    return [_life_of(places) for places in units.values()]


def _life_of(places: Sequence[Row]) -> Life4:
    failed = min((row[2] for row in places if row[2] is not None), default=NEVER)
    clean = min(NEVER if row[1] is None else row[1] for row in places)
    return min(row[0] for row in places), clean, failed, places[0][3]


def fits(panels: Sequence[str], panel: str) -> bool:
    """Panels of a trial are named without their side; none named means all."""
    return not panels or kind_of(panel) in panels


def pairs_a_month(asked: Asked, today: date) -> float:
    """Pairs, or jobs, that the work of the last half year would have offered, a month."""
    since = today - timedelta(days=PACE_DAYS)
    rows = Place.objects.filter(
        kind__in=asked.place_kinds,
        piece__panel_work__finished_at__date__gte=since,
        piece__ended_on__isnull=True,
    ).values_list("piece__panel_work__job_id", "piece__panel_work__panel", "key")
    places = {(job, panel, key) for job, panel, key in rows if fits(asked.panels, panel)}
    return _pairs_among(places, asked) / (PACE_DAYS / DAYS_A_MONTH)


def _pairs_among(places: set[tuple[int, str, str]], asked: Asked) -> int:
    if asked.unit == TrialUnit.JOBS:
        return len({job for job, *_ in places})
    if asked.level is Level.PANEL:
        places = {(job, panel, "") for job, panel, _ in places}
    if asked.unit == TrialUnit.SIDES:
        return sum(
            panel.startswith("left-") and (job, opposite(panel), key) in places for job, panel, key in places
        )
    counts: dict[tuple[int, str], int] = {}
    for job, panel, _key in places:
        counts[job, panel] = counts.get((job, panel), 0) + 1
    return sum(count // 2 for count in counts.values())
