"""Shares over simulated reviews, with what chance alone leaves open."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

Z99 = 2.5758


@dataclass(frozen=True, slots=True)
class Tally:
    """Mean of a share over independent runs, of several answers each, and its Monte-Carlo error."""

    mean: float
    error: float
    answers: int

    def reaches(self, low: float, high: float) -> bool:
        """The 99 % Monte-Carlo interval has a point in low..high."""
        return self.mean + Z99 * self.error >= low and self.mean - Z99 * self.error <= high

    @property
    def written(self) -> str:
        return f"{100 * self.mean:.1f} (MC {100 * self.error:.1f}, n {self.answers})"


def tally(runs: Sequence[Sequence[bool]]) -> Tally:
    """From answers grouped by run: the answers of one run are not independent of each other."""
    kept = [np.asarray(r, dtype=float) for r in runs if len(r)]
    if not kept:
        return Tally(float("nan"), float("nan"), 0)
    hits, sizes = np.array([r.sum() for r in kept]), np.array([len(r) for r in kept])
    mean = hits.sum() / sizes.sum()
    spread = ((hits - mean * sizes) ** 2).sum() / sizes.sum() ** 2
    floor = 0.25 / sizes.sum() ** 2  # all answers alike still leave something open
    return Tally(float(mean), float(np.sqrt(max(spread, floor))), int(sizes.sum()))
