"""Ranking groups without letting a lucky or unlucky small one top the list.

Observed failures O of each group are held against those expected of its own mix and ages, E. The
ratios are taken to come from one gamma distribution, estimated from all groups, and each group is
pulled towards the whole by as much as its own counts leave open. Counts are divided by phi, which
says how much more they scatter than independent failures would.

Clayton D, Kaldor J (1987) Biometrics 43:671-681; Goldstein H, Spiegelhalter DJ (1996) J R Stat
Soc A 159:385-443.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import gammaincinv, gammaln

from .arrays import FloatArray, IntArray

WORST = 3
DRAWS = 4000


@dataclass(frozen=True, slots=True)
class Spread:
    """The gamma distribution of true ratios: shape `a` and mean `m`."""

    a: float
    m: float


@dataclass(frozen=True, slots=True, eq=False)
class Ranked:
    """Ratio to the whole for each group, shape (g,): mean, 95 % interval, P(among the worst three)."""

    ratio: FloatArray
    low: FloatArray
    high: FloatArray
    p_worst3: FloatArray
    spread: Spread

    @property
    def order(self) -> IntArray:
        """Positions from worst to best."""
        return np.argsort(-self.ratio, kind="stable")


def rank(
    observed: FloatArray, expected: FloatArray, seed: int, phi: float = 1.0, draws: int = DRAWS
) -> Ranked:
    """Shrunken ratios of `observed` to `expected` failures, both of shape (g,).

    Raises ValueError when nothing failed, a count is negative or phi is below 1.
    """
    observed, expected = np.asarray(observed, dtype=float), np.asarray(expected, dtype=float)
    if observed.min(initial=0) < 0 or expected.min(initial=0) < 0 or phi < 1:
        raise ValueError("counts are not negative and phi is at least 1")
    counts, chances = observed / phi, expected / phi
    spread = estimate_spread(counts, chances)
    shape, rate = counts + spread.a, chances + spread.a / spread.m
    low, high = (gammaincinv(shape, tail) / rate for tail in (0.025, 0.975))
    return Ranked(shape / rate, low, high, _among_worst(shape, rate, seed, draws), spread)


def overdispersion(found: FloatArray, expected: FloatArray, groups_fitted: int = 1) -> float:
    """phi: squared residuals of vehicle-by-group cells over what independent failures would show.

    found, expected  failures of each cell, expected at its own group's level; shape (cells,)
    groups_fitted    levels estimated from the same failures, taken off the number of cells
    Never below 1; 1 when nothing failed.
    """
    count, failures = len(found), float(found.sum())
    if not failures or count <= groups_fitted:
        return 1.0
    return max(1.0, float(((found - expected) ** 2).sum() / failures) * count / (count - groups_fitted))


def estimate_spread(counts: FloatArray, chances: FloatArray, prior: bool = True) -> Spread:
    """Shape and mean by maximum marginal likelihood; `prior` steadies log a by N(log 5, 1.5).

    Without the prior this is the negative binomial with offset log(chances).
    """
    if not counts.sum() > 0:
        raise ValueError("nothing failed, so there is nothing to rank")
    low, high = np.log(5) - 8.0, np.log(5) + 8.0
    for _ in range(6):
        grid = np.linspace(low, high, 41)
        height = _profile(np.exp(grid), counts, chances)[0]
        height -= ((grid - np.log(5)) / 1.5) ** 2 / 2 if prior else 0.0
        best, width = int(np.argmax(height)), (high - low) / 20
        low, high = grid[best] - width, grid[best] + width
    shape = float(np.exp(grid[best]))
    return Spread(shape, float(shape / _profile(np.array([shape]), counts, chances)[1][0]))


def _profile(shapes: FloatArray, counts: FloatArray, chances: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Height of the marginal likelihood at each shape with its best rate r = a/m, and that rate."""
    a = shapes[:, None]
    log_rate = np.log(shapes * chances.sum() / counts.sum())
    for _ in range(50):
        part = np.exp(log_rate)[:, None] / (np.exp(log_rate)[:, None] + chances)
        slope = (a - (a + counts) * part).sum(axis=1)
        bend = ((a + counts) * part * (1 - part)).sum(axis=1)
        step = np.clip(slope / np.maximum(bend, 1e-300), -1.0, 1.0)
        log_rate = log_rate + step
        if np.abs(step).max() < 1e-12:
            break
    rate = np.exp(log_rate)[:, None]
    terms = gammaln(a + counts) - gammaln(a) + a * np.log(rate) - (a + counts) * np.log(rate + chances)
    return terms.sum(axis=1), rate[:, 0]


def _among_worst(shape: FloatArray, rate: FloatArray, seed: int, draws: int) -> FloatArray:
    groups = len(shape)
    if groups <= WORST:
        return np.ones(groups)
    ratios = np.random.default_rng(seed).gamma(shape, 1 / rate, (draws, groups))
    worst = np.argpartition(-ratios, WORST - 1, axis=1)[:, :WORST]
    return np.bincount(worst.ravel(), minlength=groups) / draws
