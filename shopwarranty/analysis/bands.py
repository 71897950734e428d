"""Bands of age in which the hazard is taken as constant, and the days a life spends in each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .arrays import FloatArray, IntArray


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
