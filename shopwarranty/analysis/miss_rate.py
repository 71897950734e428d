"""What a sweep misses: of places said clean with the rest and drawn at random, how many were wrong.

Two places drawn on one visit were swept by the same eyes on the same day, so they tell less than two of
different visits. The exact interval of Clopper and Pearson is taken at an effective number of places: the
number divided by the design effect of visits as clusters and corrected for few of them, as in Korn EL,
Graubard BI (1998) Survey Methodology 24:193-201. Where none or all were wrong the design effect cannot be
seen, and each visit counts as one place: the most cautious there is.

A place drawn and not looked at again is unknown and no part of the share, nor is any visit without a draw.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import stdtrit

from .arrays import BoolArray, FloatArray, IntArray
from .proportions import Interval, clopper_pearson

FEWEST_VISITS: Final = 20
"""Below so many visits no share is told: even none wrong of 20 goes with up to 17 % of all places."""


@dataclass(frozen=True, slots=True)
class MissRate:
    """`wrong` of `places` looked at again on `visits` visits. `share`, 0..1, and its interval are None while
    that cannot be told; `effective`: independent places that would tell as much."""

    places: int
    wrong: int
    visits: int
    share: float | None = None
    interval: Interval | None = None
    effective: float | None = None


def miss_rate(visit: IntArray, wrong: BoolArray, *, level: float = 0.95) -> MissRate:
    """From places looked at again: the visit of each (any numbers) and whether it was wrong, shape (n,).

    Raises ValueError for unequal lengths.
    """
    if visit.shape != wrong.shape:
        raise ValueError("every place has its visit")
    visits, of = np.unique(visit, return_inverse=True)
    places, found = len(wrong), int(wrong.sum())
    if len(visits) < FEWEST_VISITS:
        return MissRate(places, found, len(visits))
    effective = _effective(of, wrong.astype(float), len(visits), level)
    share = found / places
    interval = clopper_pearson(share * effective, effective, level)
    return MissRate(places, found, len(visits), share, interval, effective)


def _effective(of: IntArray, wrong: FloatArray, visits: int, level: float) -> float:
    places = len(wrong)
    beyond = wrong - wrong.mean()
    alone = float((beyond**2).sum()) * places / (places - 1)
    if alone == 0.0:
        return float(visits)
    together = float((np.bincount(of, beyond) ** 2).sum()) * visits / (visits - 1)
    few = (stdtrit(places - 1, 0.5 + level / 2) / stdtrit(visits - 1, 0.5 + level / 2)) ** 2
    return float(places / max(1.0, together / alone) * few)
