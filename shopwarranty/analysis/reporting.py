"""When events become known: the delay between the first report and the record, and days that attract dates.

What happened lately is known only in part, so recent time is weighed by the share that is known of by today.
That share is estimated from delays seen so far, each of which could not have been longer than the time since
its event (right truncation): the product over reversed time of Lagakos SW, Barraj LM, De Gruttola V (1988)
Biometrika 75:515-523, as Kalbfleisch JD, Lawless JF, Robinson JA (1991) Technometrics 33:273-285 use it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import bdtrc

from .arrays import FloatArray, IntArray

FEWEST_DELAYS = 20
"""Below this many delays their distribution is not estimated."""


@dataclass(frozen=True, slots=True)
class Reported:
    """Share of events known of so many days after they happened: steps up at `days`, to `shares`."""

    days: tuple[int, ...] = ()
    shares: tuple[float, ...] = ()

    def by(self, days: FloatArray) -> FloatArray:
        """Shape of `days`; 1 where no delay is known."""
        if not self.days:
            return np.ones_like(days)
        at = np.searchsorted(np.asarray(self.days), days, side="right") - 1
        found: FloatArray = np.where(at < 0, 0.0, np.asarray(self.shares)[np.maximum(at, 0)])
        return found


EVERYTHING_REPORTED = Reported()


def reported_share(delay: IntArray, could: IntArray) -> Reported:
    """From delays in days and how long each could have been; too few give EVERYTHING_REPORTED.

    Both of shape (n,). Raises ValueError for a delay below 0 or longer than it could have been.
    """
    if delay.shape != could.shape or np.any(delay < 0) or np.any(delay > could):
        raise ValueError("a delay lies between 0 and the time since the event")
    if len(delay) < FEWEST_DELAYS or not delay.any():
        return EVERYTHING_REPORTED
    days, counts = np.unique(delay, return_counts=True)
    shares, above = np.ones(len(days)), 1.0
    for at in range(len(days) - 1, 0, -1):
        at_risk = int(((delay <= days[at]) & (could >= days[at])).sum())
        above *= 1.0 - counts[at] / at_risk
        shares[at - 1] = above
    return Reported(tuple(int(day) for day in days), tuple(float(share) for share in shares))


@dataclass(frozen=True, slots=True)
class Heap:
    """Dates on days that attract them: `found` of `total`, where `expected` would be there by chance."""

    found: int
    total: int
    expected: float
    p: float

    @property
    def is_heaped(self) -> bool:
        return self.found >= 5 and self.p < 0.01


ROUND_DAYS = (1, 15)
CHECK_AGES = (14, 91, 365, 730, 1096)


def round_dates(day_of_month: IntArray) -> Heap:
    """Dates on the 1st or the 15th, as one gives them who does not know the day."""
    found = int(np.isin(day_of_month, ROUND_DAYS).sum())
    return _heap(found, len(day_of_month), len(ROUND_DAYS) * 12 / 365.25)


def check_ages(age_days: FloatArray, checks: Sequence[int] = CHECK_AGES, within: int = 10) -> Heap:
    """Ages within so many days of a planned check: what is then reported was seen then, and came before.

    By chance: the share of all days up to the oldest event that lie so close to a check.
    """
    if not len(age_days):
        return Heap(0, 0, 0.0, 1.0)
    days = np.arange(int(age_days.max()) + 1)
    near = (np.abs(days[:, None] - np.asarray(checks)) <= within).any(axis=1)
    close = (np.abs(age_days[:, None] - np.asarray(checks)) <= within).any(axis=1)
    return _heap(int(close.sum()), len(age_days), float(near.mean()))


def _heap(found: int, total: int, share: float) -> Heap:
    p = 1.0 if found == 0 else float(bdtrc(found - 1, total, share))
    return Heap(found, total, total * share, p)
