"""From lives and coded factors to the packed form the likelihood works on.

Lives of equal factor levels share a pattern; their clean days are summed, which is exact. The
cost of a fit then grows with patterns and failures, not with lives.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .arrays import BoolArray, FloatArray, IntArray
from .bands import Bands
from .exposure import Lives
from .hazard import Packed


@dataclass(frozen=True, slots=True, eq=False)
class Factor:
    """A coded factor: `codes` (n,) in 0..len(levels)-1, `reference` the level others are held to."""

    name: str
    codes: IntArray
    levels: tuple[str, ...]
    reference: int = 0

    def __post_init__(self) -> None:
        if len(self.codes) and not (self.codes.min() >= 0 and self.codes.max() < len(self.levels)):
            raise ValueError(f"{self.name}: a code without a level")

    @property
    def compared(self) -> tuple[int, ...]:
        """Levels that have a coefficient of their own: all but the reference."""
        return tuple(k for k in range(len(self.levels)) if k != self.reference)

    def only(self, which: BoolArray | IntArray) -> Factor:
        return Factor(self.name, self.codes[which], self.levels, self.reference)

    def indicators(self, codes: IntArray) -> FloatArray:
        """0/1 columns of the compared levels, shape (len(codes), len(levels) - 1)."""
        wanted = np.array(self.compared, dtype=np.int64)
        return np.asarray(codes[:, None] == wanted, dtype=np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class Looks:
    """Lives with their band days at hand: ages looked up in one table (exact, by whole day)."""

    lives: Lives
    bands: Bands
    table: FloatArray
    last_clean: IntArray
    failures: IntArray
    clean_days: FloatArray

    @property
    def failure_days(self) -> FloatArray:
        """Band days of each failing interval, shape (F, K)."""
        rows = self.failures
        days: FloatArray = self.table[self.lives.failed[rows]] - self.table[self.last_clean[rows]]
        return days


def looks_of(lives: Lives, bands: Bands) -> Looks:
    """Band days of every life; `clean_days` has shape (K, n), one contiguous row a band."""
    last_clean = lives.last_clean
    longest = int(max(last_clean.max(initial=0), lives.failed.max(initial=0)))
    table = bands.table(longest)
    clean_days = np.empty((bands.count, len(lives)))
    for band in range(bands.count):
        column = np.ascontiguousarray(table[:, band])
        clean_days[band] = column[last_clean] - column[lives.entry]
    return Looks(lives, bands, table, last_clean, np.flatnonzero(lives.found), clean_days)


@dataclass(frozen=True, slots=True, eq=False)
class Patterned:
    """Packed lives and the pattern of each life, shape (n,); `columns` name (factor, level)."""

    packed: Packed
    pattern: IntArray
    columns: tuple[tuple[str, int], ...]


def packed_by(looks: Looks, factors: Sequence[Factor]) -> Patterned:
    """Sum lives by the combinations of factor levels that occur."""
    pattern, codes = combinations(factors, len(looks.lives))
    designs = [f.indicators(c) for f, c in zip(factors, codes, strict=True)]
    count = len(codes[0]) if factors else 1
    design = np.hstack([np.zeros((count, 0)), *designs])
    columns = tuple((f.name, level) for f in factors for level in f.compared)
    return Patterned(_summed(looks, pattern, design), pattern, columns)


def extended(looks: Looks, base: Patterned, factors: Sequence[Factor]) -> Patterned:
    """Patterns of the base split further by more factors; columns of the base come first."""
    size = len(base.packed.design)
    first = Factor("", base.pattern, tuple(map(str, range(size))))
    pattern, (basis, *codes) = combinations([first, *factors], len(looks.lives))
    designs = [f.indicators(c) for f, c in zip(factors, codes, strict=True)]
    design = np.hstack([base.packed.design[basis], *designs])
    columns = base.columns + tuple((f.name, level) for f in factors for level in f.compared)
    return Patterned(_summed(looks, pattern, design), pattern, columns)


def _summed(looks: Looks, pattern: IntArray, design: FloatArray) -> Packed:
    rows = [np.bincount(pattern, days, len(design)) for days in looks.clean_days]
    return Packed(design, np.column_stack(rows), pattern[looks.failures], looks.failure_days)


def combinations(factors: Sequence[Factor], count: int) -> tuple[IntArray, list[IntArray]]:
    """Number the combinations that occur: one for each life (n,), and each factor's code in it."""
    radix = 1
    mixed: IntArray = np.zeros(count, dtype=np.int64)
    for factor in factors:
        if radix * len(factor.levels) > 2**60:
            mixed, radix = renumbered(mixed, radix)[0], count
        mixed = mixed * len(factor.levels) + factor.codes
        radix *= len(factor.levels)
    pattern, first = renumbered(mixed, radix)
    return pattern, [f.codes[first] for f in factors]


def renumbered(mixed: IntArray, radix: int) -> tuple[IntArray, IntArray]:
    """Numbers 0..P-1 for the values that occur, and one row that shows each."""
    if radix > max(4 * len(mixed), 100_000):
        _, first, inverse = np.unique(mixed, return_index=True, return_inverse=True)
        return inverse, first
    last = np.full(radix, -1, dtype=np.int64)
    last[mixed] = np.arange(len(mixed))
    occurring = np.flatnonzero(last >= 0)
    number = np.empty(radix, dtype=np.int64)
    number[occurring] = np.arange(len(occurring))
    return number[mixed], last[occurring]
