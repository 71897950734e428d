"""Which factors moved together so closely that the record cannot tell them apart.

`kept` is the share of a contrast's information that is left once another factor is fitted beside
it (one over its variance inflation). `discordant` are the failures that could tell the two apart:
of the two kinds in which the factors disagree, the rarer. With perfect records a tangled pair only
goes silent; where one value in ten is recorded wrongly, blame moves to the neighbour from a kept
share of about 0.8 downwards, so hand-recorded factors are held to a stricter line.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .arrays import FloatArray, IntArray
from .effects import Ground
from .patterns import Factor

HAND_RECORDED_KEPT = 0.7
SYSTEM_RECORDED_KEPT = 0.4
APART_KEPT = 0.9
DISCORDANT_FAILURES = 10
LIVES_LOOKED_AT = 100_000
"""The kept share is a property of the mix, so it is taken from whole vehicles up to so many lives."""


@dataclass(frozen=True, slots=True)
class Tangle:
    """How far a contrast (factor, level) can be told apart from `other`."""

    factor: str
    level: str
    other: str
    kept: float
    discordant: int
    cannot_tell: bool

    @property
    def moves_with(self) -> bool:
        """Tangled enough to be said beside a claim."""
        return self.kept < APART_KEPT


@dataclass(frozen=True, slots=True, eq=False)
class Information:
    """Expected information of the baseline and of every factor's columns at the base fit."""

    matrix: FloatArray
    columns: tuple[tuple[str, int], ...]
    bands: int

    def of(self, *names: str) -> IntArray:
        """Positions of the columns of these factors."""
        return np.array(
            [self.bands + i for i, (name, _) in enumerate(self.columns) if name in names], dtype=np.int64
        )


def information_of(ground: Ground, factors: Sequence[Factor]) -> Information:
    """Information of all factors together, from an even choice of whole vehicles when lives are many."""
    stride = -(-len(ground.lives) // LIVES_LOOKED_AT)
    rows = np.flatnonzero(ground.vehicles.number % stride == 0)
    share = _band_shares(ground, rows)
    design = np.hstack([np.zeros((len(rows), 0)), *(f.indicators(f.codes[rows]) for f in factors)])
    side = share.T @ design
    corner = design.T @ (design * share.sum(axis=1)[:, None])
    matrix = np.block([[np.diag(share.sum(axis=0)), side], [side.T, corner]]) * stride
    matrix += np.diag(np.r_[np.full(share.shape[1], 1e-6), np.full(design.shape[1], 0.25)])
    columns = tuple((f.name, level) for f in factors for level in f.compared)
    return Information(matrix, columns, share.shape[1])


def _band_shares(ground: Ground, rows: IntArray) -> FloatArray:
    """Expected failures of each life in each band, shape (rows, K): hazard times its days."""
    looks = ground.looks
    hazard = np.exp(ground.base_fit.log_hazard)
    ratio = np.exp(ground.base.packed.design @ ground.base_fit.log_ratio)[ground.base.pattern[rows]]
    last = np.where(looks.lives.found[rows], looks.lives.failed[rows], looks.last_clean[rows])
    days = looks.table[last] - looks.table[looks.lives.entry[rows]]
    return np.asarray(days * hazard * ratio[:, None])


def beside(information: Information, adjustment: Sequence[str]) -> Information:
    """What is left of every other column beside the baseline and the adjustment set."""
    out = np.concatenate([np.arange(information.bands), information.of(*adjustment)])
    names = [c for c in information.columns if c[0] not in adjustment]
    kept = np.array([information.bands + information.columns.index(c) for c in names], dtype=np.int64)
    matrix = information.matrix
    shared = np.linalg.solve(matrix[np.ix_(out, out)], matrix[np.ix_(out, kept)])
    left = matrix[np.ix_(kept, kept)] - matrix[np.ix_(kept, out)] @ shared
    return Information(left, tuple(names), 0)


def kept_share(
    information: Information, column: tuple[str, int], other: str, adjustment: Sequence[str] = ()
) -> float:
    """Share of a contrast's information left beside `other`, both beside the adjustment set, 0..1."""
    name = column[0]
    rest = [a for a in adjustment if a not in (name, other)]
    own = information.bands + information.columns.index(column)
    base = np.concatenate([np.arange(information.bands), information.of(*rest, name)])
    alone = _variance(information.matrix, base, own)
    both = _variance(information.matrix, np.concatenate([base, information.of(other)]), own)
    return float(min(alone / both, 1.0))


def _variance(matrix: FloatArray, columns: IntArray, own: int) -> float:
    part = matrix[np.ix_(columns, columns)]
    pick = (columns == own).astype(np.float64)
    return float(np.linalg.solve(part, pick) @ pick)


def discordant_failures(ground: Ground, factor: Factor, level: int, other: Factor) -> int:
    """Failures in the rarer of the two ways in which a contrast and `other` disagree.

    Each level of `other` leans to the side (level or reference) that it holds more of than the
    whole does; failures of one side under levels leaning to the other disagree.
    """
    codes = factor.codes
    size = len(other.levels)
    ours, theirs = (
        np.bincount(other.codes[codes == side], ground.expected[codes == side], size)
        for side in (level, factor.reference)
    )
    leans = ours * theirs.sum() > theirs * ours.sum()
    rows = ground.looks.failures
    leaning = leans[other.codes[rows]]
    return int(
        min((~leaning & (codes[rows] == level)).sum(), (leaning & (codes[rows] == factor.reference)).sum())
    )


def tangles(
    ground: Ground,
    information: Information,
    left: Information,
    factor: Factor,
    level: int,
    others: Sequence[Factor],
    system_recorded: frozenset[str] = frozenset(),
) -> tuple[Tangle, ...]:
    """The contrast against every other factor, the most tangled first.

    `left` is the information beside the ground's adjustment set (see `beside`).

    Few discordant failures alone do not tangle factors that are independent (a rare level has few
    of everything): they count once kept falls below 0.9.
    """
    adjustment = [f.name for f in ground.adjustment]
    column, found = (factor.name, level), []
    for other in others:
        if {factor.name, other.name} & set(adjustment):
            kept = kept_share(information, column, other.name, adjustment)
        else:
            kept = kept_share(left, column, other.name)
        apart = discordant_failures(ground, factor, level, other) if kept < APART_KEPT else 0
        by_system = {factor.name, other.name} <= system_recorded
        line = SYSTEM_RECORDED_KEPT if by_system else HAND_RECORDED_KEPT
        cannot = kept < line or (kept < APART_KEPT and apart < DISCORDANT_FAILURES)
        found.append(Tangle(factor.name, factor.levels[level], other.name, kept, apart, cannot))
    return tuple(sorted(found, key=lambda t: t.kept))
