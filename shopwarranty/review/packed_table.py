"""A table of lives as blocks of bytes and a head that names their columns, and back. Pure.

Nothing is rounded or left out: `same` finds no difference between a table and what comes back.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from shopwarranty.analysis import packing
from shopwarranty.analysis.packing import BLOCK, Column

from .columns import Numbers, Texts
from .lives import LifeTable

IDS: Final = ("life", "job", "vehicle")
DAYS: Final = (
    "starts",
    "entry",
    "clean",
    "failed",
    "all_clean",
    "all_failed",
    "ended",
    "ended_day",
)
Head = dict[str, Any]


@dataclass(frozen=True, slots=True)
class PackedTable:
    head: Head
    blocks: tuple[bytes, ...]


def packed(table: LifeTable, block: int = BLOCK) -> PackedTable:
    """At least one block, so that an empty table keeps its columns."""
    columns = list(_columns(table))
    starts = range(0, max(len(table), 1), block)
    blocks = tuple(packing.pack([c[first : first + block] for c in columns]) for first in starts)
    return PackedTable(_head(table), blocks)


def unpacked(head: Mapping[str, Any], blocks: Sequence[bytes]) -> LifeTable:
    """Raises packing.BadBlock, or KeyError and ValueError for a head of another shape."""
    rest = iter(packing.unpack(blocks))
    fixed = {name: next(rest) for name in (*IDS, *DAYS, "damaged")}
    columns = {said["key"]: _column(said, rest) for said in head["columns"]}
    if next(rest, None) is not None:
        raise ValueError("more columns than the head names")
    return LifeTable(
        **fixed, columns=columns, own_fields=dict(head["own_fields"]), installers=dict(head["installers"])
    )


def same(one: LifeTable, other: LifeTable) -> bool:
    """Whether two tables hold the same lives in the same order with the same recorded of them."""
    if _head(one) != _head(other) or len(one) != len(other):
        return False
    pairs = zip(_columns(one), _columns(other), strict=True)
    return all(np.array_equal(a, b, equal_nan=a.dtype.kind == "f") for a, b in pairs)


def _head(table: LifeTable) -> Head:
    return {
        "columns": [_said(key, column) for key, column in table.columns.items()],
        "own_fields": dict(table.own_fields),
        "installers": dict(table.installers),
    }


def _said(key: str, column: Texts | Numbers) -> Head:
    said: Head = {"key": key, "basis": column.basis is not None}
    if isinstance(column, Texts):
        return said | {"levels": list(column.levels)}
    return said | {"step": column.step, "whole": column.whole}


def _columns(table: LifeTable) -> Iterator[Column]:
    yield from (np.asarray(getattr(table, name), dtype=np.int64) for name in IDS)
    yield from (packing.days(getattr(table, name)) for name in DAYS)
    yield np.asarray(table.damaged, dtype=np.bool_)
    for column in table.columns.values():
        if isinstance(column, Texts):
            yield packing.codes(column.codes, len(column.levels))
        else:
            yield np.asarray(column.values, dtype=np.float64)
        if column.basis is not None:
            yield np.asarray(column.basis, dtype=np.int8)


def _column(said: Mapping[str, Any], rest: Iterator[Column]) -> Texts | Numbers:
    values = next(rest)
    basis = next(rest) if said["basis"] else None
    if "levels" in said:
        return Texts(values, tuple(said["levels"]), basis)
    return Numbers(values, basis, float(said["step"]), bool(said["whole"]))
