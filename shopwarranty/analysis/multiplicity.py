"""What many questions asked at once do to a p-value.

Benjamini Y, Hochberg Y (1995) Controlling the false discovery rate, J R Stat Soc B 57:289-300;
Holm S (1979) A simple sequentially rejective multiple test procedure, Scand J Stat 6:65-70.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .arrays import FloatArray


def benjamini_hochberg(p: FloatArray) -> FloatArray:
    """Adjusted p-values that bound the share of false claims among the claims.

    `p` has shape (m,); NaN means "not tested", stays NaN and is not counted in m.
    """
    return _adjust(p, _step_up)


def holm(p: FloatArray) -> FloatArray:
    """Adjusted p-values that bound the chance of any false claim; NaN as above."""
    return _adjust(p, _step_down)


def _step_up(ordered: FloatArray) -> FloatArray:
    m = len(ordered)
    scaled = ordered * m / np.arange(1, m + 1)
    return np.minimum.accumulate(scaled[::-1])[::-1]


def _step_down(ordered: FloatArray) -> FloatArray:
    m = len(ordered)
    return np.maximum.accumulate(ordered * np.arange(m, 0, -1))


def _adjust(p: FloatArray, rule: Callable[[FloatArray], FloatArray]) -> FloatArray:
    p = np.asarray(p, dtype=np.float64)
    if np.any((p < 0) | (p > 1)):
        raise ValueError("a p-value lies between 0 and 1")
    adjusted = np.full(p.shape, np.nan)
    tested = np.flatnonzero(~np.isnan(p))
    order = tested[np.argsort(p[tested], kind="stable")]
    adjusted[order] = np.minimum(rule(p[order]), 1.0)
    return adjusted
