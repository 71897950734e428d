"""Which technique goes with failures: one factor at a time over a fixed set of others.

Each factor is fitted beside the adjustment set by the interval-censored proportional hazards of
`hazard`, with errors by vehicle. One at a time rather than all at once: a joint fit of thirty
factors needs a quarter more places for the same answer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import fdtrc, stdtr, stdtrit

from .arrays import FloatArray
from .bands import CHECK_BANDS, Bands
from .expected import expected_under
from .exposure import Lives, clusters_from_zero
from .hazard import Fit, Penalty, fit
from .patterns import Factor, Looks, Patterned, extended, looks_of, packed_by
from .sandwich import Errors, Vehicles, errors

MOST_LEVELS = 20
"""A factor with more levels is ranked, not compared: its contrasts would be thin and its fit slow."""

WIDEST = 300.0
"""Half width of a log ratio beyond which nothing at all is known of it."""


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """What all contrasts of a review share: watched lives, the adjustment set and the fit without factor.

    `expected` are failures expected of each life by the adjustment set alone, shape (n,).
    """

    looks: Looks
    vehicles: Vehicles
    adjustment: tuple[Factor, ...]
    base: Patterned
    base_fit: Fit
    expected: FloatArray

    @property
    def lives(self) -> Lives:
        return self.looks.lives


@dataclass(frozen=True, slots=True)
class Contrast:
    """One level held against the reference of its factor.

    log_ratio, se, df   log hazard ratio, its error by vehicle, degrees of freedom
    p                   two-sided, from Student's t
    edges, failures, expected, failed_vehicles   watched places of the level, and of the reference
    """

    factor: str
    level: str
    reference: str
    log_ratio: float
    se: float
    df: float
    p: float
    edges: int
    reference_edges: int
    failures: int
    reference_failures: int
    expected: float
    reference_expected: float
    failed_vehicles: int
    reference_failed_vehicles: int

    @property
    def ratio(self) -> float:
        return float(np.exp(self.log_ratio))

    def interval(self, level: float = 0.95) -> tuple[float, float]:
        """Ends of the interval of the hazard ratio at this confidence level."""
        half = min(float(stdtrit(self.df, 0.5 + level / 2)) * self.se, WIDEST)
        return float(np.exp(self.log_ratio - half)), float(np.exp(self.log_ratio + half))


def prepare(lives: Lives, adjustment: Sequence[Factor], bands: Bands = CHECK_BANDS) -> Ground:
    """The shared ground. `lives` must all be watched (see Lives.watched); factors are of their length.

    Raises hazard.NoFailures when nothing was found failing.
    """
    if not lives.watched.all():
        raise ValueError("places nobody looked at are in no comparison")
    looks = looks_of(lives, bands)
    base = packed_by(looks, adjustment)
    found = fit(base.packed)
    return Ground(
        looks,
        Vehicles(*clusters_from_zero(lives.cluster)),
        tuple(adjustment),
        base,
        found,
        expected_under(looks, base, found),
    )


def contrasts(
    ground: Ground, factor: Factor, uncounted: frozenset[str] = frozenset()
) -> tuple[Contrast, ...]:
    """Every level of `factor` against its reference, save levels in `uncounted` ("not recorded").

    An uncounted level has its own coefficient, so its lives inform the baseline and nothing else.
    """
    wanted = [k for k in factor.compared if factor.levels[k] not in uncounted]
    if not wanted:
        return ()
    patterned, found = fitted_with(ground, (factor,))
    directions = directions_of(patterned, [(factor.name, k) for k in wanted])
    spread = errors(ground.looks, patterned, found, ground.vehicles, directions)
    return tuple(
        _contrast(factor, k, float(directions[i] @ found.theta), spread, i, _Side(ground, factor))
        for i, k in enumerate(wanted)
    )


def joint_p(ground: Ground, factors: Sequence[Factor]) -> float:
    """p that none of these factors matters, fitted together: Wald's test by vehicle, as an F.

    For a pair that cannot be told apart this is what decides whether the pair is claimed.
    """
    patterned, found = fitted_with(ground, factors)
    columns = [(f.name, level) for f in factors for level in f.compared]
    directions = directions_of(patterned, columns)
    spread = errors(ground.looks, patterned, found, ground.vehicles, directions)
    covariance = _alike(spread) * np.outer(spread.se, spread.se)
    estimate = directions @ found.theta
    statistic = float(estimate @ np.linalg.pinv(covariance) @ estimate) / len(columns)
    return float(fdtrc(len(columns), float(spread.df.min()), statistic))


def _alike(spread: Errors) -> FloatArray:
    """Correlations by vehicle, shape (d, d); a level that no vehicle tells anything of stands alone."""
    moves = spread.by_vehicle > 1e-9 * spread.se
    scale = np.where(moves, spread.by_vehicle, 1.0)
    together = spread.influence.T @ spread.influence / np.outer(scale, scale)
    alike: FloatArray = np.where(np.outer(moves, moves), together, 0.0)
    np.fill_diagonal(alike, 1.0)
    return alike


def fitted_with(
    ground: Ground, factors: Sequence[Factor], penalty: Penalty | None = None
) -> tuple[Patterned, Fit]:
    """The adjustment set without these factors, and the factors beside it, fitted."""
    names = {f.name for f in factors}
    rest = [f for f in ground.adjustment if f.name not in names]
    if len(rest) < len(ground.adjustment):
        patterned = packed_by(ground.looks, [*rest, *factors])
        return patterned, fit(patterned.packed, penalty)
    patterned = extended(ground.looks, ground.base, factors)
    added = np.zeros(patterned.packed.design.shape[1] - ground.base.packed.design.shape[1])
    return patterned, fit(patterned.packed, penalty, np.concatenate([ground.base_fit.theta, added]))


def directions_of(patterned: Patterned, columns: Sequence[tuple[str, int]]) -> FloatArray:
    """Unit rows that pick the coefficients of (factor, level), shape (d, K+q)."""
    bands, size = patterned.packed.bands, len(patterned.columns)
    rows = np.zeros((len(columns), bands + size))
    for i, column in enumerate(columns):
        rows[i, bands + patterned.columns.index(column)] = 1.0
    return rows


class _Side:
    """Counts of every level of a factor among watched lives."""

    __slots__ = ("edges", "expected", "failed_vehicles", "failures")

    def __init__(self, ground: Ground, factor: Factor) -> None:
        size, codes, rows = len(factor.levels), factor.codes, ground.looks.failures
        self.edges = np.bincount(codes, minlength=size)
        self.failures = np.bincount(codes[rows], minlength=size)
        self.expected = np.bincount(codes, ground.expected, size)
        pairs = np.unique(ground.vehicles.number[rows] * np.int64(size) + codes[rows])
        self.failed_vehicles = np.bincount(pairs % size, minlength=size)


def _contrast(
    factor: Factor, level: int, log_ratio: float, spread: Errors, row: int, side: _Side
) -> Contrast:
    se, df, ref = float(spread.se[row]), float(spread.df[row]), factor.reference
    return Contrast(
        factor=factor.name,
        level=factor.levels[level],
        reference=factor.levels[ref],
        log_ratio=log_ratio,
        se=se,
        df=df,
        p=float(2 * stdtr(df, -abs(log_ratio) / se)),
        edges=int(side.edges[level]),
        reference_edges=int(side.edges[ref]),
        failures=int(side.failures[level]),
        reference_failures=int(side.failures[ref]),
        expected=float(side.expected[level]),
        reference_expected=float(side.expected[ref]),
        failed_vehicles=int(side.failed_vehicles[level]),
        reference_failed_vehicles=int(side.failed_vehicles[ref]),
    )


def pooled_rare_levels(factor: Factor, most: int = MOST_LEVELS) -> Factor:
    """A factor of at most `most` levels for the adjustment set: the rarest become one, "others"."""
    if len(factor.levels) <= most:
        return factor
    counts = np.bincount(factor.codes, minlength=len(factor.levels))
    kept = np.sort(np.argsort(-counts, kind="stable")[: most - 1])
    new = np.full(len(factor.levels), most - 1)
    new[kept] = np.arange(most - 1)
    levels = (*(factor.levels[k] for k in kept), "others")
    codes = new[factor.codes]
    return Factor(factor.name, codes, levels, int(np.argmax(np.bincount(codes, minlength=most))))
