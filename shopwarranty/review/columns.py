"""What is recorded of every life, as arrays. Pure: no framework, no database.

A value nobody stated is code -1 (or NaN), never "no", zero or a level of its own by accident.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt

IntArray = npt.NDArray[np.integer[Any]]
FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]

NOT_RECORDED = -1
BASES = ("stated", "measured", "by_method", "imported")
BASIS_CODE = {basis: code for code, basis in enumerate(BASES)}
MOST_COUNTS = 4
"""Whole numbers of so few different values are levels themselves (passes: 1, 2, 3)."""


@dataclass(frozen=True, slots=True, eq=False)
class Texts:
    """`codes` (n,) into `levels`, -1 where not recorded; `basis` likewise into BASES, where there is one."""

    codes: IntArray
    levels: tuple[str, ...]
    basis: IntArray | None = None

    def at(self, rows: IntArray) -> Texts:
        """The same seen from things that lie in these rows; -1: in none."""
        return Texts(taken(self.codes, rows), self.levels, _basis_at(self.basis, rows))

    def code(self, level: str) -> int:
        """-2 for a level that does not occur, so that it equals no code."""
        return self.levels.index(level) if level in self.levels else -2


@dataclass(frozen=True, slots=True, eq=False)
class Numbers:
    """`values` (n,) in SI, NaN where not recorded; cut into ranges where they are compared.

    `step`: the ends of ranges are rounded to it. `whole`: few different values stay what they are.
    """

    values: FloatArray
    basis: IntArray | None = None
    step: float = 1.0
    whole: bool = False

    def at(self, rows: IntArray) -> Numbers:
        values = np.where(rows < 0, np.nan, self.values[np.maximum(rows, 0)] if len(self.values) else np.nan)
        return Numbers(values, _basis_at(self.basis, rows), self.step, self.whole)


@dataclass(frozen=True, slots=True)
class Span:
    """A range of a number: above `over`, up to and with `to`; None is open. Equal ends: that value itself."""

    over: float | None
    to: float | None

    @property
    def text(self) -> str:
        if self.over is not None and self.over == self.to:
            return f"{self.to:g}"
        if self.over is None:
            return f"up to {self.to:g}" if self.to is not None else "any"
        return f"over {self.over:g}" if self.to is None else f"over {self.over:g} up to {self.to:g}"


def texts(values: Iterable[Hashable | None], basis: Iterable[str] | None = None) -> Texts:
    """Codes for texts (or yes and no); None and "" are not recorded."""
    kept = [_as_text(value) for value in values]
    levels = tuple(sorted({text for text in kept if text}))
    number = {level: code for code, level in enumerate(levels)} | {"": NOT_RECORDED}
    codes = np.fromiter((number[text] for text in kept), dtype=np.int32, count=len(kept))
    return Texts(codes, levels, basis_codes(basis))


def numbers(
    values: Sequence[float | None], basis: Iterable[str] | None = None, step: float = 1.0, whole: bool = False
) -> Numbers:
    return Numbers(
        np.array([np.nan if v is None else v for v in values], dtype=np.float64),
        basis_codes(basis),
        step,
        whole,
    )


def basis_codes(basis: Iterable[str] | None) -> IntArray | None:
    if basis is None:
        return None
    return np.array([BASIS_CODE.get(each, NOT_RECORDED) for each in basis], dtype=np.int8)


def cut(column: Numbers, rows: IntArray) -> tuple[IntArray, tuple[Span, ...]]:
    """Codes of these rows and the ranges they mean: few whole values as they are, else rounded tertiles."""
    values = column.values[rows]
    known = values[~np.isnan(values)]
    if not known.size:
        return np.full(len(rows), NOT_RECORDED), ()
    distinct = np.unique(known)
    if column.whole and len(distinct) <= MOST_COUNTS:
        codes = np.searchsorted(distinct, np.nan_to_num(values, nan=distinct[0]))
        return np.where(np.isnan(values), NOT_RECORDED, codes), tuple(
            Span(float(v), float(v)) for v in distinct
        )
    ends = _ends(known, column.step)
    codes = np.searchsorted(ends, values, side="left")
    return np.where(np.isnan(values), NOT_RECORDED, codes), _spans(ends)


def _ends(known: FloatArray, step: float) -> list[float]:
    """Tertiles rounded to a step a person can remember; ties may leave fewer."""
    thirds = np.quantile(known, [1 / 3, 2 / 3], method="inverted_cdf")
    ends = np.unique(np.round(thirds / step) * step)
    return [float(end) for end in ends if known.min() <= end < known.max()]


def _spans(ends: Sequence[float]) -> tuple[Span, ...]:
    if not ends:
        return (Span(None, None),)
    between = (Span(a, b) for a, b in pairwise(ends))
    return (Span(None, ends[0]), *between, Span(ends[-1], None))


def rows_in(keys: IntArray, wanted: IntArray) -> IntArray:
    """Where each of `wanted` stands in the rising `keys`; -1 where it does not. Same shape as `wanted`."""
    if not len(keys):
        return np.full(len(wanted), -1)
    found = np.minimum(np.searchsorted(keys, wanted), len(keys) - 1)
    return np.where(keys[found] == wanted, found, -1)


def taken(codes: IntArray, rows: IntArray) -> IntArray:
    """codes[rows], and not recorded where a row is -1."""
    if not len(codes):
        return np.full(len(rows), NOT_RECORDED)
    return np.where(rows < 0, NOT_RECORDED, codes[np.maximum(rows, 0)])


def _basis_at(basis: IntArray | None, rows: IntArray) -> IntArray | None:
    return None if basis is None else taken(basis, rows)


def _as_text(value: Hashable | None) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)
