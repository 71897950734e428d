"""The curve that assumes nothing: the nonparametric maximum likelihood of interval-censored lives.

Only the mass on the maximal intersections of the intervals (last clean, found] is determined
(Turnbull BW 1976 J R Stat Soc B 38:290-295). Steps of self-consistency (EM) alternate with the
iterative convex minorant (Wellner JA, Zhan Y 1997 J Am Stat Assoc 92:945-959); the search ends
when the likelihood can rise by no more than a stated amount.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import isotonic_regression

from .arrays import FloatArray, IntArray
from .exposure import Lives
from .hazard import NotConverged

UNBOUNDED = -1
"""As the right end of an interval: not failed."""

LEAST_MASS = 1e-7


class LateEntry(ValueError):
    """The estimate is unstable when places enter late, so none is given."""


@dataclass(frozen=True, slots=True)
class Mass:
    """Share of failures in (after, until] in days; `until` None: not failed by the oldest look."""

    after: float
    until: float | None
    mass: float


@dataclass(frozen=True, slots=True, eq=False)
class _Intervals:
    """Weighted rows as ranges first..last-1 of the maximal intersections (after, until]."""

    after: FloatArray
    until: FloatArray
    first: IntArray
    last: IntArray
    weight: FloatArray


def turnbull(lives: Lives) -> tuple[Mass, ...]:
    """Masses of at least 1e-7 in order of age. Raises LateEntry when any place enters after day 0."""
    if lives.entry.any():
        raise LateEntry("places that came under record late")
    last_clean, found = lives.last_clean, lives.found
    censored = np.bincount(last_clean[~found])
    days = np.flatnonzero(censored)
    pairs, counts = np.unique(
        np.column_stack([last_clean[found], lives.failed[found]]), axis=0, return_counts=True
    )
    left = np.concatenate([pairs[:, 0], days]).astype(np.float64)
    right = np.concatenate([pairs[:, 1].astype(np.float64), np.full(len(days), np.inf)])
    return masses(left, right, np.concatenate([counts, censored[days]]).astype(np.float64))


def masses(left: FloatArray, right: FloatArray, weight: FloatArray) -> tuple[Mass, ...]:
    """The estimate for rows (left, right] counted `weight` times; right may be infinite."""
    if not len(left):
        return ()
    if np.any(right <= left):
        raise ValueError("an interval ends no later than it begins")
    rows = _intersections(left, right, weight)
    mass = _maximum(rows)
    return tuple(
        Mass(float(a), float(b) if np.isfinite(b) else None, float(m))
        for a, b, m in zip(rows.after, rows.until, mass, strict=True)
        if m >= LEAST_MASS
    )


def log_likelihood(found: tuple[Mass, ...], left: FloatArray, right: FloatArray, weight: FloatArray) -> float:
    """Log-likelihood of rows (left, right] under these masses."""
    after = np.array([m.after for m in found])
    until = np.array([np.inf if m.until is None else m.until for m in found])
    mass = np.array([m.mass for m in found])
    inside = (after >= left[:, None]) & (until <= right[:, None])
    return float((weight * np.log(inside @ mass)).sum())


def _intersections(left: FloatArray, right: FloatArray, weight: FloatArray) -> _Intervals:
    """A left end directly followed by a right end; at one day right ends come first, (a, b]."""
    lefts, rights = np.unique(left), np.unique(right)
    ends = np.concatenate([rights, lefts])
    opens = np.concatenate([np.zeros(len(rights), bool), np.ones(len(lefts), bool)])
    order = np.lexsort((opens, ends))
    ends, opens = ends[order], opens[order]
    at = np.flatnonzero(opens[:-1] & ~opens[1:])
    after, until = ends[at], ends[at + 1]
    first = np.searchsorted(after, left, side="left")
    last = np.searchsorted(until, right, side="right")
    return _Intervals(after, until, first, last, weight)


def _maximum(rows: _Intervals, gain: float = 1e-9, rounds: int = 20_000) -> FloatArray:
    """Masses whose log-likelihood is within `gain` of the highest (times the sum of weights)."""
    count, total = len(rows.after), rows.weight.sum()
    mass = np.full(count, 1.0 / count)
    for _ in range(rounds):
        pull = _pull(rows, mass) / total
        if pull.max() - 1.0 < gain:
            return mass
        mass = _minorant_step(rows, mass * pull)
    raise NotConverged("the search for the steps did not end")


def _covered(rows: _Intervals, mass: FloatArray) -> FloatArray:
    reach = np.concatenate([[0.0], np.cumsum(mass)])
    covered: FloatArray = np.maximum(reach[rows.last] - reach[rows.first], 1e-300)
    return covered


def _pull(rows: _Intervals, mass: FloatArray) -> FloatArray:
    """Slope of the log-likelihood in each mass: the sum of weight / probability of covering rows."""
    share = rows.weight / _covered(rows, mass)
    size = len(mass) + 1
    change = np.bincount(rows.first, share, size) - np.bincount(rows.last, share, size)
    return np.cumsum(change)[:-1]


def _minorant_step(rows: _Intervals, mass: FloatArray) -> FloatArray:
    """One step of the iterative convex minorant, halved until the likelihood does not fall."""
    size = len(mass)
    if size < 2:
        return mass
    covered = _covered(rows, mass)
    slope = rows.weight / covered
    bend = slope / covered
    up = np.bincount(rows.last, slope, size + 1) - np.bincount(rows.first, slope, size + 1)
    curve = np.bincount(rows.last, bend, size + 1) + np.bincount(rows.first, bend, size + 1)
    inner, weights = slice(1, size), np.maximum(curve[1:size], 1e-12)
    reached = np.cumsum(mass)[:-1]
    wanted = isotonic_regression(reached + up[inner] / weights, weights=weights).x
    target = np.diff(np.clip(wanted, 0.0, 1.0), prepend=0.0, append=1.0)
    return _no_lower(rows, mass, target, covered)


def _no_lower(rows: _Intervals, mass: FloatArray, target: FloatArray, covered: FloatArray) -> FloatArray:
    height = rows.weight @ np.log(covered)
    share = 1.0
    for _ in range(30):
        there = mass + share * (target - mass)
        if rows.weight @ np.log(_covered(rows, there)) >= height:
            return there
        share /= 2
    return mass
