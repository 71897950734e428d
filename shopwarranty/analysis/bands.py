"""Bands of age in which the hazard is taken as constant, and the days a life spends in each."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from .arrays import FloatArray, IntArray
from .exposure import Lives


@dataclass(frozen=True, slots=True)
class Bands:
    """Bands (0, c1], (c1, c2], ... (ck, without end); `cuts` are the inner ends in days, rising."""

    cuts: tuple[int, ...]

    def __post_init__(self) -> None:
        if any(b <= a for a, b in zip((0, *self.cuts), self.cuts, strict=False)):
            raise ValueError(f"the ends of bands must rise from above 0: {self.cuts}")

    @property
    def count(self) -> int:
        return len(self.cuts) + 1

    @property
    def first_check(self) -> int:
        """Day by which the first planned check has been: the end of the first band, else 30."""
        return self.cuts[0] if self.cuts else 30

    def days_by(self, age: IntArray | FloatArray) -> FloatArray:
        """Days of (0, age] spent in each band; shape (n,) gives (n, bands)."""
        starts = np.array((0, *self.cuts), dtype=np.float64)
        ends = np.array((*self.cuts, np.inf))
        ages = np.asarray(age, dtype=np.float64)[:, None]
        return np.clip(ages, starts, ends) - starts

    def table(self, last_day: int) -> FloatArray:
        """Row t holds the days of (0, t] in each band, t = 0..last_day; exact, looked up by age."""
        return self.days_by(np.arange(last_day + 1))


CHECK_BANDS = Bands((30, 180, 540))
"""One band for each planned check (14 days, 3 months, 1 year, later), cut midway between them."""

CURVE_BANDS = Bands((9, 18, 40, 80, 105, 180, 330, 400, 540))
"""Finer bands for the curve of share failed by age."""

USUAL_CHECKS = (14, 90, 365, 730, 1095, 1461, 1826)
NEAR_A_CHECK = 0.35
MOSTLY = 0.6


def bands_for(lives: Lives) -> Bands:
    """Bands for these lives: CHECK_BANDS, unless most looks lie elsewhere than at the usual checks.

    Then the bands follow the looks themselves: cut midway between neighbouring ages of checks when
    looks gather at a few ages, else at the quartiles of the days failures were found.
    """
    looks = np.concatenate([lives.clean[lives.clean > lives.entry], lives.failed[lives.found]])
    if not looks.size or _share_near_checks(looks) >= MOSTLY:
        return CHECK_BANDS
    ages = _gathered(looks)
    if len(ages) >= 2:
        return Bands(_rising((a + b) // 2 for a, b in pairwise(ages)))
    found = lives.failed[lives.found]
    quarters = (0.25, 0.5, 0.75) if found.size else ()
    return Bands(_rising(int(np.quantile(found, q)) for q in quarters))


def _share_near_checks(looks: IntArray) -> float:
    ages = np.array(USUAL_CHECKS)
    nearest = np.abs(looks[:, None] / ages - 1).min(axis=1)
    return float((nearest <= NEAR_A_CHECK).mean())


def _gathered(looks: IntArray, most: int = 6) -> list[int]:
    """Mean ages of groups of looks that lie apart by half their age or more; at most six, each of 5 %."""
    days, counts = np.unique(looks, return_counts=True)
    starts = np.flatnonzero(np.r_[True, days[1:] > 1.5 * days[:-1]])
    groups = np.add.reduceat(counts, starts)
    means = np.add.reduceat(days * counts, starts) / groups
    kept = means[groups >= 0.05 * counts.sum()]
    return [int(m) for m in kept] if len(kept) <= most else []


def _rising(cuts: Iterable[int]) -> tuple[int, ...]:
    return tuple(sorted({c for c in cuts if c > 0}))
