"""The cells of one level of a row as values, each distinct combination read once."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from operator import itemgetter
from typing import Any, Final, Generic, TypeVar

from django.utils.translation import gettext as _

from .cells import CellRefused, Parser, parser_of
from .columns import Kind, Level, of_level
from .faults import Faults
from .finding_columns import FINDING_COLUMNS
from .job_columns import JOB_COLUMNS
from .reading import Bound, Sheet

V = TypeVar("V")
Raw = tuple[str, ...]
MOST_KEPT: Final = 50_000
EMPTY: Final[dict[Kind, Any]] = {Kind.TEXT: "", Kind.WORD: "", Kind.ENTRIES: ()}
IMPORTED: Final = "imported"


@dataclass(frozen=True, slots=True)
class Cell:
    """Where a column of this level stands in the file and in the record, and what reads it."""

    bound: Bound
    slot: int
    parse: Parser


class LevelReader(Generic[V]):
    """Reads the columns of one level into `make`, whose fields are those columns in order."""

    def __init__(self, sheet: Sheet, level: Level, make: Callable[..., V]) -> None:
        columns = of_level((*JOB_COLUMNS, *FINDING_COLUMNS), level)
        slots = {column.name: slot for slot, column in enumerate(columns)}
        self.sheet, self.make = sheet, make
        self.blank = [EMPTY.get(column.kind) for column in columns]
        self.cells = [
            Cell(bound, slots[bound.column.name], parser_of(bound.column, bound.unit, sheet.style))
            for bound in sheet.bound
            if bound.column.level is level
        ]
        self.pick = picker([cell.bound.index for cell in self.cells])
        self.bases = [
            (slots[column.basis_of], slots[column.name], column.basis_of)
            for column in columns
            if column.basis_of
        ]
        self.kept: dict[Raw, V] = {}

    def read(self, line: int, raw: Raw) -> V:
        found = self.kept.get(raw)
        return found if found is not None else self._read_anew(line, raw)

    def _read_anew(self, line: int, raw: Raw) -> V:
        before = self.sheet.faults.count
        values = list(self.blank)
        for cell, text in zip(self.cells, raw, strict=True):
            stripped = text.strip()
            if stripped:
                self._fill(values, cell, stripped, line)
        self._say_how_known(values, line)
        made = self.make(*values)
        if self.sheet.faults.count == before:
            self._keep(raw, made)
        return made

    def _fill(self, values: list[Any], cell: Cell, text: str, line: int) -> None:
        try:
            values[cell.slot] = cell.parse(text)
        except CellRefused as refused:
            add = self.sheet.faults.add
            add(self.sheet.name, line, cell.bound.header, text, refused.problem, refused.remedy)

    def _say_how_known(self, values: list[Any], line: int) -> None:
        """A value whose basis nobody wrote is imported; a basis without a value claims nothing."""
        for value_slot, basis_slot, name in self.bases:
            said = values[value_slot] not in (None, "")
            if said and not values[basis_slot]:
                values[basis_slot] = IMPORTED
            elif not said and values[basis_slot]:
                self._basis_of_nothing(line, name, values[basis_slot])
                values[basis_slot] = ""

    def _basis_of_nothing(self, line: int, name: str, basis: str) -> None:
        header = self.sheet.header_of(f"{name}_basis")
        problem = _("says how a value is known that is not there.")
        self.sheet.faults.add(
            self.sheet.name, line, header, basis, problem, _("Empty it, or give the value.")
        )

    def _keep(self, raw: Raw, made: V) -> None:
        if len(self.kept) >= MOST_KEPT:
            self.kept.clear()
        self.kept[raw] = made


def picker(indexes: Sequence[int]) -> Callable[[Sequence[str]], Raw]:
    """`itemgetter` that always gives a tuple."""
    if len(indexes) > 1:
        return itemgetter(*indexes)
    if not indexes:
        return lambda cells: ()
    only = indexes[0]
    return lambda cells: (cells[only],)


@dataclass(slots=True)
class Repeated:
    """Cells that repeat from row to row: each says the same as the first row, or nothing."""

    raw: Raw
    line: int
    agreed: set[Raw] = field(default_factory=set)

    def check(self, reader: LevelReader[Any], raw: Raw, line: int) -> None:
        if raw == self.raw or raw in self.agreed:
            return
        if self._disagreements(reader, raw, line) == 0:
            self.agreed.add(raw)

    def _disagreements(self, reader: LevelReader[Any], raw: Raw, line: int) -> int:
        wrong = [
            (cell, here.strip(), first.strip())
            for cell, here, first in zip(reader.cells, raw, self.raw, strict=True)
            if here.strip() and here.strip() != first.strip()
        ]
        for cell, here, first in wrong:
            self._add(reader.sheet.faults, reader.sheet.name, cell.bound.header, here, first, line)
        return len(wrong)

    def _add(self, faults: Faults, name: str, header: str, here: str, first: str, line: int) -> None:
        words = {"line": self.line, "first": first}
        said = _("but line %(line)d says “%(first)s”.") if first else _("but line %(line)d leaves it empty.")
        faults.add(name, line, header, here, said % words, _("Repeated cells must agree."))


def filled(raw: Iterable[str]) -> bool:
    return any(text.strip() for text in raw)
