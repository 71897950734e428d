"""How many pairs a trial needs, and how long that takes at a shop's pace.

Connor RJ (1987) Biometrics 43:207-211 for pairs judged once; the trial itself is planned by
`trial_sequence.discordant_needed`, which allows for looking at any time.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, sqrt

import numpy as np
from scipy.special import bdtr, gammaln, ndtri, xlogy

from .arrays import FloatArray, IntArray

POWER = 0.8
NEVER_AFTER_MONTHS = 60.0
"""Longer than five years is said as "never at this pace": methods, films and people change sooner."""
DAYS_A_MONTH = 30.44


@dataclass(frozen=True, slots=True)
class Outlook:
    """What a plan takes. `months` None: at this pace nothing will be known."""

    discordant: int
    discordant_share: float
    pairs: int | None
    months: float | None


def connor_pairs(only_other: float, only_usual: float, alpha: float = 0.05, power: float = POWER) -> float:
    """Pairs (not rounded) until mid-P McNemar finds the two shares of discordant pairs apart."""
    either, apart = only_other + only_usual, only_other - only_usual
    z_alpha, z_power = float(ndtri(1 - alpha / 2)), float(ndtri(power))
    return ((z_alpha * sqrt(either) + z_power * sqrt(either - apart**2)) / apart) ** 2


def exact_power(pairs: int, only_other: float, only_usual: float, alpha: float, mid: bool) -> float:
    """Unconditional power of the exact or mid-P test at `pairs`, by summing over discordant counts."""
    either = only_other + only_usual
    total = 0.0
    for n in range(1, pairs + 1):
        chance = _binomial(np.array([n]), pairs, either)[0]
        if chance > 1e-16:
            total += chance * _called(n, only_other / either, alpha, mid)
    return float(total)


def _called(n: int, share: float, alpha: float, mid: bool) -> float:
    counts = np.arange(n + 1)
    least = np.minimum(counts, n - counts)
    p = np.minimum(1.0, 2 * bdtr(least, n, 0.5)) if not mid else 2 * bdtr(least, n, 0.5)
    if mid:
        p = p - _binomial(least, n, 0.5)
    return float(_binomial(counts, n, share)[p <= alpha].sum())


def _binomial(counts: FloatArray | IntArray, total: int, share: float) -> FloatArray:
    log_choose = gammaln(total + 1) - gammaln(counts + 1) - gammaln(total - counts + 1)
    return np.asarray(np.exp(log_choose + xlogy(counts, share) + xlogy(total - counts, 1 - share)))


def discordant_share(usual_fails: float, ratio: float) -> float:
    """Share of pairs whose halves differ, when the other arm fails `ratio` times as often."""
    other = min(1.0, usual_fails * ratio)
    return other * (1 - usual_fails) + usual_fails * (1 - other)


def outlook(discordant: int, share: float, pairs_a_month: float, by_day: int) -> Outlook:
    """Pairs so that `discordant` of them differ in four of five trials, and the months until judged."""
    if share <= 0:
        return Outlook(discordant, share, None, None)
    reach = float(ndtri(POWER)) * sqrt(share * (1 - share))
    pairs = ceil(((reach + sqrt(reach**2 + 4 * share * discordant)) / (2 * share)) ** 2)
    if pairs_a_month <= 0:
        return Outlook(discordant, share, pairs, None)
    months = pairs / pairs_a_month + by_day / DAYS_A_MONTH
    return Outlook(discordant, share, pairs, months if months <= NEVER_AFTER_MONTHS else None)
