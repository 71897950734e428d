"""What a trial would take, before anything is laid: from the shop's own failure curve and its pace."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from shopwarranty.analysis.curve import shares_failed
from shopwarranty.analysis.exposure import NEVER, Lives
from shopwarranty.analysis.paired_size import DAYS_A_MONTH, Outlook, discordant_share, outlook
from shopwarranty.analysis.trial_sequence import discordant_needed
from shopwarranty.defects.models import Life
from shopwarranty.jobs.models import Place
from shopwarranty.trade.catalogue import kind_of, opposite

from .models import TrialUnit

PACE_DAYS = 182
MOST_LIVES = 200_000


@dataclass(frozen=True, slots=True)
class Asked:
    """What is compared and what counts, as far as the numbers depend on it. Empty panels: every panel."""

    unit: str
    place_kinds: tuple[str, ...]
    panels: tuple[str, ...]
    by_day: int
    ratio: float


@dataclass(frozen=True, slots=True)
class Forecast:
    """`usual_fails`: share failed by the day, None where nothing was watched that long."""

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
    apart = discordant_share(fails, asked.ratio) if fails else 0.0
    return Forecast(
        usual_fails=fails,
        lives=len(lives),
        pairs_a_month=pace,
        outlook=outlook(discordant_needed(asked.ratio), apart, pace, asked.by_day),
    )


def _lives(asked: Asked) -> Lives:
    rows = Life.objects.filter(place__kind__in=asked.place_kinds, number=1)
    columns = ("entry_day", "clean_day", "failed_day", "job__vehicle_id", "place__piece__panel_work__panel")
    kept = [
        (entry, NEVER if clean is None else clean, NEVER if failed is None else failed, vehicle)
        for entry, clean, failed, vehicle, panel in rows.values_list(*columns)[:MOST_LIVES]
        if fits(asked.panels, panel)
    ]
    table = np.array(kept, dtype=np.int64).reshape(len(kept), 4)
    return Lives(*(np.ascontiguousarray(table[:, column]) for column in range(4)))


def fits(panels: Sequence[str], panel: str) -> bool:
    """Panels of a trial are named without their side; none named means all."""
    return not panels or kind_of(panel) in panels


def pairs_a_month(asked: Asked, today: date) -> float:
    """Pairs that the work of the last half year would have offered, a month."""
    since = today - timedelta(days=PACE_DAYS)
    rows = Place.objects.filter(
        kind__in=asked.place_kinds,
        piece__panel_work__finished_at__date__gte=since,
        piece__ended_on__isnull=True,
    ).values_list("piece__panel_work__job_id", "piece__panel_work__panel", "key")
    places = {(job, panel, key) for job, panel, key in rows if fits(asked.panels, panel)}
    return _pairs_among(places, asked.unit) / (PACE_DAYS / DAYS_A_MONTH)


def _pairs_among(places: set[tuple[int, str, str]], unit: str) -> int:
    if unit == TrialUnit.SIDES:
        return sum(
            panel.startswith("left-") and (job, opposite(panel), key) in places for job, panel, key in places
        )
    counts: dict[tuple[int, str], int] = {}
    for job, panel, _key in places:
        counts[job, panel] = counts.get((job, panel), 0) + 1
    return sum(count // 2 for count in counts.values())
