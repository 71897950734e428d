"""Two arms whose halves were not looked at together: interval-censored, within strata, clusters kept whole.

Scores of Finkelstein DM (1986) Biometrics 42:845-854 from the arms put together, as in Fay MP, Shaw PA
(2010) J Stat Softw 36(2); variance by permuting arms within a stratum.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import exp, inf, sqrt

import numpy as np
from scipy.special import ndtr

from .arrays import FloatArray
from .npmle import Mass, masses


@dataclass(frozen=True, slots=True, eq=False)
class Stratum:
    """Lives of units drawn in one stratum: last clean, found (inf: not failed), other arm, each (n,)."""

    last_clean: FloatArray
    found: FloatArray
    other: FloatArray


@dataclass(frozen=True, slots=True)
class ScoreTest:
    """`score` above 0: the other arm fails earlier. p two-sided; 1 where nothing can be compared."""

    score: float
    z: float
    p: float
    variance: float = 0.0

    def ratio(self, level_z: float = 0.0) -> float | None:
        """Other to usual by score and variance, moved by so many standard errors; None: nothing compared."""
        if self.variance <= 0:
            return None
        return exp(min(700.0, self.score / self.variance + level_z / sqrt(self.variance)))


def stratified_score(strata: Iterable[Stratum]) -> ScoreTest:
    """Scores and variances of the strata added up; a stratum of one arm adds nothing."""
    parts = [_of_stratum(each) for each in strata]
    score, variance = sum(s for s, _ in parts), sum(v for _, v in parts)
    if variance <= 0:
        return ScoreTest(0.0, 0.0, 1.0)
    z = score / sqrt(variance)
    return ScoreTest(score, z, float(2 * ndtr(-abs(z))), variance)


def _of_stratum(stratum: Stratum) -> tuple[float, float]:
    kept = (stratum.last_clean > 0) | (stratum.found < inf)
    left, right, other = stratum.last_clean[kept], stratum.found[kept], stratum.other[kept]
    n, ones = len(other), float(other.sum())
    if n < 2 or ones in (0, n) or not (right < inf).any():
        return 0.0, 0.0
    scores = finkelstein_scores(left, right, masses(left, right, np.ones(n)))
    spread = float(((scores - scores.mean()) ** 2).sum())
    return float((other * scores).sum()), ones * (n - ones) / (n * (n - 1)) * spread


def finkelstein_scores(left: FloatArray, right: FloatArray, mass: tuple[Mass, ...]) -> FloatArray:
    """c = [S(L) log S(L) - S(R) log S(R)] / [S(L) - S(R)], early failures positive; shape (n,)."""
    first, last = _still_held(left, mass), _still_held(right, mass)
    weighted = _times_log(first) - _times_log(last)
    return np.asarray(weighted / np.maximum(first - last, 1e-300))


def _still_held(days: FloatArray, mass: tuple[Mass, ...]) -> FloatArray:
    ends = np.array([inf if each.until is None else each.until for each in mass])
    after = np.array([each.after for each in mass])
    sizes = np.array([each.mass for each in mass])
    passed = (ends[None, :] <= days[:, None]) & (after[None, :] < days[:, None])
    return np.asarray(np.clip(1 - passed @ sizes, 0.0, 1.0))


def _times_log(share: FloatArray) -> FloatArray:
    return np.asarray(share * np.log(np.where(share > 0, share, 1.0)))
