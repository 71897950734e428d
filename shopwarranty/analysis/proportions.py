"""Intervals for a share: so many of so many.

Wilson EB (1927) Probable inference, J Am Stat Assoc 22:209-212; Clopper CJ, Pearson ES (1934)
The use of confidence or fiducial limits, Biometrika 26:404-413; compared by Newcombe RG (1998)
Stat Med 17:857-872.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

from scipy.special import betaincinv, ndtri


@dataclass(frozen=True, slots=True)
class Interval:
    """Low and high end of an interval, in the unit of what it surrounds."""

    low: float
    high: float


def _check(count: float, total: float, level: float) -> None:
    if not 0 <= count <= total or total <= 0:
        raise ValueError(f"{count} of {total} is not a share")
    if not 0 < level < 1:
        raise ValueError(f"a confidence level lies between 0 and 1, not at {level}")


def wilson(count: float, total: float, level: float = 0.95) -> Interval:
    """Wilson's score interval for `count` of `total`, without continuity correction.

    Counts may be fractions (numbers divided by a design effect). Raises ValueError unless
    0 <= count <= total, total > 0 and 0 < level < 1.
    """
    _check(count, total, level)
    z = float(ndtri(0.5 + level / 2))
    share = count / total
    centre = share + z * z / (2 * total)
    half = z * sqrt(share * (1 - share) / total + z * z / (4 * total * total))
    scale = 1 + z * z / total
    low = 0.0 if count == 0 else (centre - half) / scale
    high = 1.0 if count == total else (centre + half) / scale
    return Interval(low, high)


def clopper_pearson(count: float, total: float, level: float = 0.95) -> Interval:
    """The exact two-sided interval for `count` of `total`; never too short, often too long.

    Raises ValueError as `wilson` does.
    """
    _check(count, total, level)
    tail = (1 - level) / 2
    low = 0.0 if count == 0 else float(betaincinv(count, total - count + 1, tail))
    high = 1.0 if count == total else float(betaincinv(count + 1, total - count, 1 - tail))
    return Interval(low, high)


def upper_limit(count: float, total: float, level: float = 0.95) -> float:
    """The exact one-sided upper limit of a share; for none of `total` it is near 3 / total.

    Both may be fractions: numbers seen divided by a design effect. Raises ValueError as `wilson`.
    """
    _check(count, total, level)
    return 1.0 if count == total else float(betaincinv(count + 1, total - count, level))
