"""Matched pairs judged once: only pairs whose halves differ say anything.

McNemar Q (1947) Psychometrika 12:153-157; mid-P: Lancaster HO (1961) J Am Stat Assoc 56:223-234,
recommended for pairs by Fagerland MW, Lydersen S, Laake P (2013) BMC Med Res Methodol 13:91.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, inf, lgamma, log

from scipy.special import bdtr

from .proportions import Interval, clopper_pearson


@dataclass(frozen=True, slots=True)
class Discordant:
    """Pairs in which only the other arm failed, and in which only the usual arm did."""

    other: int
    usual: int

    @property
    def total(self) -> int:
        return self.other + self.usual


@dataclass(frozen=True, slots=True)
class PairedTest:
    """Two-sided p of "alike", and the ratio other : usual with its exact 95 % interval (ends may be inf)."""

    exact_p: float
    mid_p: float
    ratio: float | None
    interval: Interval


def mcnemar(counts: Discordant, level: float = 0.95) -> PairedTest:
    """Conditional on the discordant pairs. Without one: p = 1, no ratio, the interval is everything."""
    n, least = counts.total, min(counts.other, counts.usual)
    if n == 0:
        return PairedTest(1.0, 1.0, None, Interval(0.0, inf))
    exact = min(1.0, 2 * float(bdtr(least, n, 0.5)))
    mid = 2 * float(bdtr(least, n, 0.5)) - at_half(least, n)
    share = clopper_pearson(counts.other, n, level)
    ratio = counts.other / counts.usual if counts.usual else inf
    return PairedTest(exact, min(1.0, mid), ratio, Interval(odds(share.low), odds(share.high)))


def at_half(count: int, total: int) -> float:
    """Chance of exactly `count` heads of `total` fair coins."""
    return exp(lgamma(total + 1) - lgamma(count + 1) - lgamma(total - count + 1) - total * log(2.0))


def odds(share: float) -> float:
    return share / (1 - share) if share < 1 else inf
