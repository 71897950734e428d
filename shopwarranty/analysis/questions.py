"""What a review is asked: lives, the factors recorded of them, and which of those are claimed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from .arrays import BoolArray, IntArray
from .exposure import Lives
from .patterns import Factor

NOT_RECORDED_LEVEL = "not recorded"
"""The level of lives of which nobody stated the factor. Never "no", never compared, never a reference."""


@dataclass(frozen=True, slots=True)
class Question:
    """One review of everything. Factors have the length of `lives`; names refer to `factors`.

    claimed     factors whose levels get a verdict; one family of claims
    adjustment  factors that enter every fit (panel, kind of place, installer, film)
    mix         factors the ranking standardises the whole for (kind of place)
    everything  the same places with callbacks counted when they happened, for the second analysis
    system_recorded  factors the record fills in by itself (lot, date, installer, product)
    seen_by_owner    factors that change what an owner can see
    attendance_ratio attendance after a callback over attendance without; None when not known
    """

    lives: Lives
    factors: tuple[Factor, ...]
    claimed: tuple[str, ...]
    adjustment: tuple[str, ...] = ()
    mix: tuple[str, ...] = ()
    everything: Lives | None = None
    system_recorded: frozenset[str] = frozenset()
    seen_by_owner: frozenset[str] = frozenset()
    attendance_ratio: float | None = None

    def __post_init__(self) -> None:
        names = [f.name for f in self.factors]
        if len(set(names)) != len(names):
            raise ValueError("two factors of one name")
        missing = (set(self.claimed) | set(self.adjustment) | set(self.mix)) - set(names)
        if missing:
            raise ValueError(f"no factor named {sorted(missing)[0]}")
        if any(len(f.codes) != len(self.lives) for f in self.factors):
            raise ValueError("factors and lives differ in length")

    def named(self, names: Sequence[str]) -> tuple[Factor, ...]:
        """Factors by name, in this order."""
        by_name = {f.name: f for f in self.factors}
        return tuple(by_name[name] for name in names)


def factor_of(name: str, codes: IntArray, levels: Sequence[str], weight: BoolArray | None = None) -> Factor:
    """A factor whose reference is its most frequent level among `weight`, ties alphabetical.

    Code -1 becomes the level "not recorded", which is never the reference unless nothing else is.
    """
    codes = np.asarray(codes)
    order = sorted(range(len(levels)), key=lambda k: levels[k])
    names = [levels[k] for k in order]
    place = np.empty(len(levels) + 1, dtype=np.int64)
    place[order] = np.arange(len(levels))
    place[-1] = len(levels)
    if (codes < 0).any():
        names.append(NOT_RECORDED_LEVEL)
    moved = place[codes]
    counted = moved if weight is None else moved[weight]
    frequent = np.bincount(counted, minlength=len(names))[: max(len(levels), 1)]
    return Factor(name, moved, tuple(names), int(np.argmax(frequent)))


def factor_from_text(name: str, values: Sequence[str]) -> Factor:
    """A factor from texts; a blank one is "not recorded"."""
    levels = sorted({v for v in values if v})
    number = {level: k for k, level in enumerate(levels)} | {"": -1}
    codes = np.fromiter((number[v] for v in values), dtype=np.int64, count=len(values))
    return factor_of(name, codes, levels)


def factor_from_numbers(name: str, values: Sequence[float]) -> Factor:
    """A factor from numbers cut at their tertiles; NaN is "not recorded". Ties may leave fewer levels."""
    numbers = np.asarray(values, dtype=np.float64)
    known = ~np.isnan(numbers)
    if not known.any():
        return factor_of(name, np.full(len(numbers), -1), ())
    ends = np.unique(np.quantile(numbers[known], [1 / 3, 2 / 3], method="inverted_cdf"))
    ends = ends[ends < numbers[known].max()]
    codes = np.where(known, np.searchsorted(ends, numbers, side="left"), -1)
    return factor_of(name, codes, _range_names([f"{end:g}" for end in ends]))


def _range_names(ends: Sequence[str]) -> list[str]:
    if not ends:
        return ["any"]
    between = [f"over {a} up to {b}" for a, b in pairwise(ends)]
    return [f"up to {ends[0]}", *between, f"over {ends[-1]}"]
