"""One line for each group of places: how many, how often, how sure, and how far from the whole."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import gammaincinv

from .arrays import NOT_RECORDED, FloatArray, IntArray
from .bands import CURVE_BANDS, Bands
from .curve import ShareFailed, design_effect_of, shares_failed
from .expected import expected_failures
from .exposure import Lives, edge_days
from .patterns import Factor
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
class _Sums:
    """Totals by level, each of shape (levels,), and how much counts scatter beyond chance."""

    edges: IntArray
    never_seen: IntArray
    failures: IntArray
    days: FloatArray
    expected: FloatArray | None
    phi: float


def summarise(
    lives: Lives,
    codes: IntArray,
    levels: Sequence[str],
    *,
    seed: int,
    mix: Sequence[Factor] = (),
    days: Sequence[int] = SHARE_DAYS,
    bands: Bands = CURVE_BANDS,
    expected: FloatArray | None = None,
) -> tuple[GroupFigure, ...]:
    """One figure a level, in the order of `levels`.

    lives   all places of the whole that levels are held against
    codes   level of each life, shape (n,): 0..len(levels)-1, or NOT_RECORDED (-1) for none
    mix     factors the whole is standardised for (kind of place)
    days    ages at which the share failed is given
    seed    for the draws behind `p_worst3`
    expected  expected failures of each life when already at hand, shape (n,)

    Raises ValueError for a code outside the levels or arrays of unequal length.
    """
    codes = np.asarray(codes)
    if len(codes) != len(lives):
        raise ValueError("codes and lives differ in length")
    if len(codes) and not (codes.min() >= NOT_RECORDED and codes.max() < len(levels)):
        raise ValueError("a code without a level")
    if expected is None and lives.found.any():
        expected = expected_failures(lives, mix)
    sums = _sums(lives, codes, len(levels), expected)
    ranked = _ranked(sums, seed)
    effect = design_effect_of(lives)
    order = np.argsort(codes, kind="stable")
    ends = np.searchsorted(codes[order], np.arange(len(levels) + 1))
    figures = []
    for number, level in enumerate(levels):
        part = lives.only(order[ends[number] : ends[number + 1]])
        shares = shares_failed(part, days, bands, design_effect=effect)
        figures.append(_figure(number, level, part, sums, ranked, shares))
    return tuple(figures)


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


def _sums(lives: Lives, codes: IntArray, size: int, expected: FloatArray | None) -> _Sums:
    known = codes != NOT_RECORDED
    watched, found = lives.watched, lives.found

    def count(which: FloatArray) -> FloatArray:
        return np.bincount(codes[known], which[known], size).astype(np.float64)

    failures = count(found.astype(float))
    chances = None if expected is None else count(expected)
    return _Sums(
        count(watched.astype(float)).astype(np.int64),
        count((~watched).astype(float)).astype(np.int64),
        failures.astype(np.int64),
        count(edge_days(lives)),
        chances,
        1.0 if chances is None or expected is None else _phi(lives, codes, expected, failures, chances),
    )


def _phi(
    lives: Lives, codes: IntArray, expected: FloatArray, failures: FloatArray, chances: FloatArray
) -> float:
    kept = np.flatnonzero((codes != NOT_RECORDED) & lives.watched)
    level = codes[kept].astype(np.int64)
    ratio = failures / np.maximum(chances, 1e-300)
    vehicle = np.unique(lives.cluster[kept], return_inverse=True)[1]
    cell = vehicle * len(failures) + level
    own = expected[kept] * ratio[level]
    return overdispersion(cell, lives.found[kept].astype(float), own, int((chances > 0).sum()))


def _ranked(sums: _Sums, seed: int) -> Ranked | None:
    if sums.expected is None or not sums.failures.sum():
        return None
    return rank(sums.failures.astype(float), np.maximum(sums.expected, 0.0), seed, sums.phi)


def _figure(
    number: int,
    level: str,
    part: Lives,
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
        vehicles=len(np.unique(part.cluster[part.watched])),
        vehicles_failed=len(np.unique(part.cluster[part.found])),
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
