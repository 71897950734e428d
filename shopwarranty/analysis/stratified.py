"""Two by two tables: the crude ratio, and the ratio within strata put together.

Mantel N, Haenszel W (1959) J Natl Cancer Inst 22:719-748; Robins J, Breslow N, Greenland S (1986)
Biometrics 42:311-323 for the interval; Breslow NE, Day NE (1980) Statistical Methods in Cancer
Research I, IARC, for the test that the strata agree, with Tarone's correction (1985 Biometrika 72:91-95).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import chdtrc

from .arrays import FloatArray, IntArray
from .exposure import Lives
from .proportions import Interval

Z95 = 1.959963984540054


@dataclass(frozen=True, slots=True)
class Stratified:
    """Odds ratio over strata with its 95 % interval; None where no stratum says anything."""

    ratio: float | None
    interval: Interval | None


def crude_ratio(tables: FloatArray) -> float | None:
    """Odds ratio of tables [[a, b], [c, d]] of shape (s, 2, 2) added up; None unless 0 < ratio < inf."""
    (a, b), (c, d) = np.asarray(tables, dtype=float).sum(axis=0)
    return float(a * d / (b * c)) if a * b * c * d else None


def mantel_haenszel(tables: FloatArray) -> Stratified:
    """Common odds ratio of tables [[a, b], [c, d]] of shape (s, 2, 2); empty strata add nothing."""
    kept = _said(tables)
    (a, b), (c, d) = kept.transpose(1, 2, 0)
    total = kept.sum(axis=(1, 2))
    up, down = a * d / total, b * c / total
    if not up.sum() or not down.sum():
        return Stratified(None, None)
    ratio = up.sum() / down.sum()
    agree, differ = (a + d) / total, (b + c) / total
    variance = (
        (agree * up).sum() / (2 * up.sum() ** 2)
        + (agree * down + differ * up).sum() / (2 * up.sum() * down.sum())
        + (differ * down).sum() / (2 * down.sum() ** 2)
    )
    low, high = (float(ratio * np.exp(side * Z95 * np.sqrt(variance))) for side in (-1, 1))
    return Stratified(float(ratio), Interval(low, high))


def strata_agree_p(tables: FloatArray, ratio: float) -> float:
    """p of Breslow and Day's test that every stratum has the common odds `ratio` (Tarone's form)."""
    kept = _said(tables)
    expected, variance = _under(kept, ratio)
    gap = kept[:, 0, 0] - expected
    statistic = (gap**2 / variance).sum() - gap.sum() ** 2 / variance.sum()
    return float(chdtrc(len(kept) - 1, max(statistic, 0.0)))


def _said(tables: FloatArray) -> FloatArray:
    """Tables in which both sides and both outcomes occur."""
    tables = np.asarray(tables, dtype=float)
    margins = np.concatenate([tables.sum(axis=1), tables.sum(axis=2)], axis=1)
    return tables[(margins > 0).all(axis=1)]


def _under(tables: FloatArray, ratio: float) -> tuple[FloatArray, FloatArray]:
    """Expected first cell and its variance when the odds ratio is `ratio`, margins kept."""
    row, column = tables.sum(axis=2)[:, 0], tables.sum(axis=1)[:, 0]
    total = tables.sum(axis=(1, 2))
    half = total - row - column + ratio * (row + column)
    if abs(ratio - 1) < 1e-12:
        a = row * column / total
    else:
        a = (half - np.sqrt(half**2 - 4 * ratio * (ratio - 1) * row * column)) / (2 * (ratio - 1))
    cells = np.array([a, row - a, column - a, total - row - column + a])
    return a, np.asarray(1 / (1 / cells).sum(axis=0))


@dataclass(frozen=True, slots=True, eq=False)
class EarlyLooks:
    """Positions of lives seen by a day, and 1 for those still clean then; each of shape (seen,)."""

    rows: IntArray
    clean: IntArray


def early_looks(lives: Lives, day: int) -> EarlyLooks:
    """Seen by `day`: found failing by then, or seen clean after entry (then, or later and so then too)."""
    failed = lives.found & (lives.failed <= day)
    rows = np.flatnonzero(failed | (lives.last_clean > lives.entry))
    return EarlyLooks(rows, (~failed[rows]).astype(np.int64))


def tables_by_level(
    looks: EarlyLooks, codes: IntArray, levels: int, stratum: IntArray, strata: int
) -> FloatArray:
    """Failed and clean among the seen, shape (strata, levels, 2); rows [level, reference] make tables."""
    kept = looks.rows
    cell = (stratum[kept] * np.int64(levels) + codes[kept]) * 2 + looks.clean
    return np.bincount(cell, minlength=strata * levels * 2).reshape(strata, levels, 2).astype(np.float64)
