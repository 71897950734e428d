"""One line for each group of places: how many, how often, how sure, and how far from the whole."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import gammaincinv

from .arrays import NOT_RECORDED, FloatArray, IntArray
from .bands import CHECK_BANDS, CURVE_BANDS, Bands
from .curve import ShareFailed, design_effect_of, shares_failed
from .expected import expected_failures
from .exposure import Lives, clusters_from_zero, edge_days
from .patterns import Factor, renumbered
from .proportions import Interval
from .ranking import Ranked, overdispersion, rank

DAYS_A_YEAR = 365.25
SHARE_DAYS = (14, 90, 365)


@dataclass(frozen=True, slots=True)
class GroupFigure:
    """What a review says of one level of a factor.

    edges          places watched: looked at after their start (the rest is in no denominator)
    never_seen     places of this level nobody has looked at since
    failures       places found failing
    edge_days      clean days and half of each failing interval
    vehicles, vehicles_failed   vehicles with a watched place, with a failed one
    rate, rate_interval   failures per 100 edge-years with 95 % interval; None without edge-days
    expected       failures expected of its mix and ages; None when nothing failed anywhere
    shrunken, shrunken_interval   ratio to the whole, pulled towards it; None as `expected`
    p_worst3       chance of being among the three worst levels; None as `expected`
    shares         share failed by each age asked for; None where not watched that long
    """

    level: str
    edges: int
    never_seen: int
    failures: int
    edge_days: float
    vehicles: int
    vehicles_failed: int
    rate: float | None
    rate_interval: Interval | None
    expected: float | None
    shrunken: float | None
    shrunken_interval: Interval | None
    p_worst3: float | None
    shares: tuple[ShareFailed | None, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Whole:
    """What every factor of a review shares; all but `lives` are of the watched lives alone, (w,).

    rows      positions of watched lives; vehicle 0..vehicles-1 of each
    failing   positions among them of those found failing
    days, expected   edge-days and expected failures of each; expected None when nothing failed
    """

    lives: Lives
    rows: IntArray
    vehicle: IntArray
    vehicles: int
    failing: IntArray
    days: FloatArray
    expected: FloatArray | None

    @property
    def edge_days(self) -> float:
        return float(self.days.sum())


@dataclass(frozen=True, slots=True, eq=False)
class _Sums:
    """Totals by level, each of shape (levels,), and how much counts scatter beyond chance."""

    edges: IntArray
    never_seen: IntArray
    failures: IntArray
    days: FloatArray
    vehicles: IntArray
    vehicles_failed: IntArray
    expected: FloatArray | None
    phi: float


def whole_of(lives: Lives, mix: Sequence[Factor] = (), bands: Bands = CHECK_BANDS) -> Whole:
    """Prepare lives for `figures`; `mix` are factors the whole is standardised for (kind of place)."""
    rows = np.flatnonzero(lives.watched)
    seen = lives.only(rows)
    kept = [f.only(rows) for f in mix]
    expected = expected_failures(seen, kept, bands) if seen.found.any() else None
    vehicle, vehicles = clusters_from_zero(seen.cluster)
    return Whole(lives, rows, vehicle, vehicles, np.flatnonzero(seen.found), edge_days(seen), expected)


def summarise(
    lives: Lives,
    codes: IntArray,
    levels: Sequence[str],
    *,
    seed: int,
    mix: Sequence[Factor] = (),
    days: Sequence[int] = SHARE_DAYS,
    bands: Bands = CURVE_BANDS,
) -> tuple[GroupFigure, ...]:
    """One figure a level, in the order of `levels`.

    lives   all places of the whole that levels are held against
    codes   level of each life, shape (n,): 0..len(levels)-1, or NOT_RECORDED (-1) for none
    mix     factors the whole is standardised for (kind of place)
    days    ages at which the share failed is given; none leaves the curves out
    bands   of the curves
    seed    for the draws behind `p_worst3`

    Raises ValueError for a code outside the levels or arrays of unequal length.
    """
    return figures(whole_of(lives, mix), codes, levels, seed=seed, days=days, bands=bands)


def figures(
    whole: Whole,
    codes: IntArray,
    levels: Sequence[str],
    *,
    seed: int,
    days: Sequence[int] = SHARE_DAYS,
    bands: Bands = CURVE_BANDS,
) -> tuple[GroupFigure, ...]:
    """As `summarise`, for several factors of the same lives."""
    codes = np.asarray(codes)
    if len(codes) != len(whole.lives):
        raise ValueError("codes and lives differ in length")
    if len(codes) and not (codes.min() >= NOT_RECORDED and codes.max() < len(levels)):
        raise ValueError("a code without a level")
    sums = _sums(whole, codes, len(levels))
    ranked = None
    if sums.expected is not None and sums.failures.sum():
        ranked = rank(sums.failures.astype(float), np.maximum(sums.expected, 0.0), seed, sums.phi)
    curves = _shares(whole.lives, codes, len(levels), days, bands)
    return tuple(_figure(k, name, sums, ranked, curves[k]) for k, name in enumerate(levels))


def _shares(
    lives: Lives, codes: IntArray, size: int, days: Sequence[int], bands: Bands
) -> list[tuple[ShareFailed | None, ...]]:
    if not days:
        return [()] * size
    effect = design_effect_of(lives)
    order = np.argsort(codes, kind="stable")
    ends = np.searchsorted(codes[order], np.arange(size + 1))
    parts = (lives.only(order[ends[k] : ends[k + 1]]) for k in range(size))
    return [shares_failed(part, days, bands, design_effect=effect) for part in parts]


def overall(lives: Lives, *, days: Sequence[int] = SHARE_DAYS, bands: Bands = CURVE_BANDS) -> GroupFigure:
    """The whole as one figure; its ratio is 1 by definition, so ranking fields are None."""
    codes = np.zeros(len(lives), dtype=np.int64)
    whole = summarise(lives, codes, ("all",), seed=0, days=days, bands=bands)[0]
    return replace(whole, shrunken=None, shrunken_interval=None, p_worst3=None)


def rate_interval(failures: float, days: float, phi: float = 1.0) -> Interval:
    """95 % interval of the rate per 100 edge-years: exact for a Poisson count, divided by phi.

    Garwood F (1936) Fiducial limits for the Poisson distribution, Biometrika 28:437-442.
    """
    unit = phi * 100 * DAYS_A_YEAR / days
    count = failures / phi
    low = float(gammaincinv(count, 0.025)) * unit if count else 0.0
    return Interval(low, float(gammaincinv(count + 1, 0.975)) * unit)


def _sums(whole: Whole, codes: IntArray, size: int) -> _Sums:
    """Codes are moved up by one, so that what was not recorded falls into a bin of its own."""
    level = codes[whole.rows].astype(np.int64) + 1
    everyone = np.bincount(codes.astype(np.int64) + 1, minlength=size + 1)[1:]
    edges = np.bincount(level, minlength=size + 1)[1:]
    cells = _cells(whole, level, size)
    failures = np.bincount(level[whole.failing], minlength=size + 1)[1:]
    expected = None
    if cells.expected is not None:
        expected = np.bincount(cells.level, cells.expected, size + 1)[1:].astype(np.float64)
    return _Sums(
        edges=edges,
        never_seen=everyone - edges,
        failures=failures,
        days=np.bincount(level, whole.days, size + 1)[1:].astype(np.float64),
        vehicles=np.bincount(cells.level, minlength=size + 1)[1:],
        vehicles_failed=np.bincount(cells.level[cells.found > 0], minlength=size + 1)[1:],
        expected=expected,
        phi=_phi(cells, failures, expected),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Cells:
    """Vehicle-and-level cells that hold a watched life: level (moved up by one), failures, expected ones."""

    level: IntArray
    found: FloatArray
    expected: FloatArray | None


def _cells(whole: Whole, level: IntArray, size: int) -> _Cells:
    """Summed in a table of all cells, or of those that occur when that would be too large."""
    cell: IntArray = whole.vehicle * np.int64(size + 1) + level
    span = whole.vehicles * (size + 1)
    if span > max(4 * len(level), 100_000):
        cell, first = renumbered(cell, span)
        span, of_level = len(first), level[first]
    else:
        of_level = np.tile(np.arange(size + 1), whole.vehicles)
    held = np.flatnonzero(np.bincount(cell, minlength=span))
    found = np.bincount(cell[whole.failing], minlength=span)[held].astype(np.float64)
    expected = None
    if whole.expected is not None:
        expected = np.bincount(cell, whole.expected, span)[held].astype(np.float64)
    return _Cells(of_level[held], found, expected)


def _phi(cells: _Cells, failures: IntArray, expected: FloatArray | None) -> float:
    """Scatter of cells about their own level's ratio; what was not recorded says nothing."""
    if cells.expected is None or expected is None:
        return 1.0
    ratio = np.concatenate([[0.0], failures / np.maximum(expected, 1e-300)])
    known = cells.level > 0
    own = (cells.expected * ratio[cells.level])[known]
    return overdispersion(cells.found[known], own, int((expected > 0).sum()))


def _figure(
    number: int,
    level: str,
    sums: _Sums,
    ranked: Ranked | None,
    shares: tuple[ShareFailed | None, ...],
) -> GroupFigure:
    failures, days = int(sums.failures[number]), float(sums.days[number])
    return GroupFigure(
        level=level,
        edges=int(sums.edges[number]),
        never_seen=int(sums.never_seen[number]),
        failures=failures,
        edge_days=days,
        vehicles=int(sums.vehicles[number]),
        vehicles_failed=int(sums.vehicles_failed[number]),
        rate=failures * 100 * DAYS_A_YEAR / days if days else None,
        rate_interval=rate_interval(failures, days, sums.phi) if days else None,
        expected=None if sums.expected is None else float(sums.expected[number]),
        shrunken=None if ranked is None else float(ranked.ratio[number]),
        shrunken_interval=_interval(ranked, number),
        p_worst3=None if ranked is None else float(ranked.p_worst3[number]),
        shares=shares,
    )


def _interval(ranked: Ranked | None, number: int) -> Interval | None:
    return None if ranked is None else Interval(float(ranked.low[number]), float(ranked.high[number]))
