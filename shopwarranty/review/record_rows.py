"""Reads the record for the review: a fixed number of queries, whatever the shop has on record."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from django.db.models import QuerySet

from shopwarranty.trade.technique import FieldKind, TechniqueField, Unit

from .columns import IntArray, Numbers, Texts, numbers, rows_in, texts

AT_ONCE = 5000
STEPS = {Unit.CELSIUS: 1.0, Unit.MM: 1.0, Unit.COUNT: 1.0, Unit.MINUTES: 5.0, Unit.HOURS: 1.0}


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """Rows of one table by rising id: columns by name, each of the table's length."""

    ids: IntArray
    columns: dict[str, Sequence[Any]]

    def ints(self, name: str, missing: int = -1) -> IntArray:
        return np.array([missing if v is None else v for v in self.columns[name]], dtype=np.int64)

    def texts(self, name: str, basis: str = "") -> Texts:
        return texts(self.columns[name], self.columns[basis] if basis else None)

    def mapped(self, name: str, meaning: Callable[[Any], Any]) -> Texts:
        return texts(meaning(value) for value in self.columns[name])

    def find(self, wanted: IntArray) -> IntArray:
        return rows_in(self.ids, wanted)

    def technique(self, fields: Sequence[TechniqueField]) -> dict[str, Texts | Numbers]:
        """The technique fields of this level, each with its basis."""
        return {field.key: self._field(field) for field in fields}

    def _field(self, field: TechniqueField) -> Texts | Numbers:
        basis = f"{field.key}_basis"
        if field.kind is not FieldKind.NUMBER:
            return self.texts(field.key, basis)
        step = STEPS[field.unit] if field.unit else 1.0
        return numbers(self.columns[field.key], self.columns[basis], step, field.whole)


def read(rows: QuerySet[Any, Any], *names: str) -> Rows:
    """These columns of all rows, by rising id."""
    found = list(rows.order_by("pk").values_list("pk", *names).iterator(chunk_size=AT_ONCE))
    columns = list(zip(*found, strict=True)) or [()] * (len(names) + 1)
    return Rows(np.array(columns[0], dtype=np.int64), dict(zip(names, columns[1:], strict=True)))


def technique_names(fields: Sequence[TechniqueField]) -> list[str]:
    return [name for field in fields for name in (field.key, f"{field.key}_basis")]
