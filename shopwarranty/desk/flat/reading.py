"""A flat file as it lies there: its encoding, its separator, its header, its lines one by one."""

import csv
import difflib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from .cells import Style
from .columns import Column, Unit
from .faults import Faults, FilesRefused, Notes
from .own_columns import PREFIX, OwnColumn, own_column

csv.field_size_limit(1_000_000)
CANDIDATES: Final = (",", ";")
TAB: Final = "\t"


@dataclass(frozen=True, slots=True)
class Bound:
    """A column of the table and where this file has it."""

    column: Column
    index: int
    header: str
    unit: Unit | None


@dataclass(frozen=True, slots=True)
class BoundOwn:
    """A shop's own field; `basis_index` where its basis stands, if it does."""

    own: OwnColumn
    index: int
    header: str
    basis_index: int | None = None


@dataclass(slots=True)
class Sheet:
    """One file, read line by line. `name` is what faults call it."""

    path: Path
    name: str
    delimiter: str
    width: int
    columns: Sequence[Column]
    bound: tuple[Bound, ...]
    own: tuple[BoundOwn, ...]
    style: Style
    faults: Faults = field(default_factory=Faults)
    notes: Notes = field(default_factory=Notes)

    def header_of(self, name: str, level: str = "") -> str:
        """The header under which a column was found, else the one it would have."""
        fitting = (b for b in self.bound if b.column.name == name and level in ("", b.column.level))
        usual = (c.header for c in self.columns if c.name == name and level in ("", c.level))
        return next((bound.header for bound in fitting), None) or next(usual, name)

    def unit_of(self, name: str) -> Unit | None:
        return next((bound.unit for bound in self.bound if bound.column.name == name), None)

    def has(self, name: str, level: str = "") -> bool:
        return any(b.column.name == name and level in ("", b.column.level) for b in self.bound)

    def say(self, line: int, level: str, name: str, value: object, problem: str, remedy: str = "") -> None:
        """A fault of one cell, by the record's name of its column. One fault a cell is enough."""
        header = self.header_of(name, level)
        if not self.faults.speaks_of(line, header):
            self.faults.add(self.name, line, header, value, problem, remedy)

    def note(self, words: str, line: int) -> None:
        """Something to look at that is no fault."""
        self.notes.add(words, line)

    def lines(self) -> Iterator[tuple[int, list[str]]]:
        """Line number and cells of each row; empty rows are passed over, crooked ones are faults."""
        with self.path.open(encoding="utf-8-sig", newline="") as file:
            reader = csv.reader(file, delimiter=self.delimiter, strict=True)
            next(reader, None)
            yield from self._rows(reader)

    def _rows(self, reader: "csv._reader") -> Iterator[tuple[int, list[str]]]:  # type: ignore[name-defined]
        width, line = self.width, reader.line_num + 1
        try:
            for cells in reader:
                if len(cells) == width:
                    if any(cells):
                        yield line, cells
                elif any(cell.strip() for cell in cells):
                    self._crooked(line, len(cells))
                line = reader.line_num + 1
        except csv.Error as error:
            self.faults.add(
                self.name,
                line,
                "",
                "",
                _("is no row of a table: %(error)s.") % {"error": error},
                _("Look at the quotation marks."),
            )

    def _crooked(self, line: int, cells: int) -> None:
        problem = _("%(cells)d cells where the header has %(width)d.") % {"cells": cells, "width": self.width}
        self.faults.add(self.name, line, "", "", problem, _("Put texts that hold separators in quotes."))


def open_sheet(path: Path, name: str, columns: Sequence[Column], zone: ZoneInfo) -> Sheet:
    """Reads the header. Raises FilesRefused when this is no such file at all."""
    faults = Faults()
    first = _first_line(path, name, faults)
    delimiter = ";" if first.count(";") > first.count(",") else ","
    headers = _headers(path, name, delimiter, faults)
    bound, own = _bind(headers, columns, name, faults)
    if not faults and headers[0] != columns[0].header:
        _refuse_first(name, headers[0], columns[0].header, faults)
    if faults:
        raise FilesRefused(faults)
    style = Style(zone, decimal_comma=delimiter == ";")
    return Sheet(path, name, delimiter, len(headers), columns, bound, own, style)


def _first_line(path: Path, name: str, faults: Faults) -> str:
    if _starts_wide(path):
        faults.add(name, 0, "", "", _("This is UTF-16."), _("Save it as CSV in UTF-8."))
        raise FilesRefused(faults)
    _must_be_utf8(path, name, faults)
    with path.open(encoding="utf-8-sig", newline="") as file:
        first = file.readline()
    if not first.strip():
        faults.add(name, 1, "", "", _("The file is empty."), _("Its first line is the header."))
        raise FilesRefused(faults)
    return first


def _starts_wide(path: Path) -> bool:
    with path.open("rb") as file:
        return file.read(2) in (b"\xff\xfe", b"\xfe\xff")


def _must_be_utf8(path: Path, name: str, faults: Faults) -> None:
    """Names the first line that is not; the whole file is looked at before anything else is done."""
    with path.open("rb") as file:
        for number, line in enumerate(file, 1):
            try:
                line.decode()
            except UnicodeDecodeError:
                faults.add(name, number, "", "", _("This is not UTF-8."), _("Save the file as CSV in UTF-8."))
                raise FilesRefused(faults) from None


def _headers(path: Path, name: str, delimiter: str, faults: Faults) -> list[str]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        try:
            return [header.strip() for header in next(csv.reader(file, delimiter=delimiter, strict=True))]
        except csv.Error as error:
            problem = _("The header is no row of a table: %(error)s.") % {"error": error}
            faults.add(name, 1, "", "", problem, _("Look at the quotation marks."))
            raise FilesRefused(faults) from error


def _bind(
    headers: Sequence[str], columns: Sequence[Column], name: str, faults: Faults
) -> tuple[tuple[Bound, ...], tuple[BoundOwn, ...]]:
    known = {header: (column, unit) for column in columns for header, unit in column.headers.items()}
    bound: dict[str, Bound] = {}
    for index, header in enumerate(headers):
        if header.startswith(PREFIX):
            continue
        found = known.get(header.lower())
        if found is None:
            _unknown(name, header, index, known, faults)
        elif found[0].name + found[0].level in bound:
            faults.add(name, 1, header, "", _("The column is there twice."), _("Keep one of them."))
        else:
            bound[found[0].name + found[0].level] = Bound(found[0], index, header, found[1])
    _miss_needed(name, columns, bound, faults)
    return tuple(bound.values()), _bind_own(headers, name, faults)


def _unknown(name: str, header: str, index: int, known: Iterable[str], faults: Faults) -> None:
    if not header:
        problem = _("Column %(number)d has no name.") % {"number": index + 1}
        faults.add(name, 1, "", "", problem, _("Name it, or take it out."))
        return
    near = difflib.get_close_matches(header.lower(), list(known), n=1, cutoff=0.7)
    remedy = (
        _("Did you mean %(near)s?") % {"near": near[0]} if near else _("Take it out, or correct its name.")
    )
    faults.add(name, 1, header, "", _("There is no such column."), remedy)


def _miss_needed(name: str, columns: Sequence[Column], bound: Iterable[str], faults: Faults) -> None:
    there = set(bound)
    for column in columns:
        if column.needed and column.name + column.level not in there:
            faults.add(name, 1, column.header, "", _("The column is missing."), _("Add it."))


def _refuse_first(name: str, found: str, wanted: str, faults: Faults) -> None:
    faults.add(
        name, 1, found, "", _("The first column is %(wanted)s.") % {"wanted": wanted}, _("Move it there.")
    )


def _bind_own(headers: Sequence[str], name: str, faults: Faults) -> tuple[BoundOwn, ...]:
    found: dict[str, BoundOwn] = {}
    bases: dict[str, int] = {}
    for index, header in enumerate(headers):
        if not header.startswith(PREFIX):
            continue
        own = own_column(header)
        if own is None:
            remedy = _("Write field:key, or field:key:level:kind:unit:name.")
            faults.add(name, 1, header, "", _("This names no field."), remedy)
        elif own.key in (bases if own.is_basis else found):
            faults.add(name, 1, header, "", _("The column is there twice."), _("Keep one of them."))
        elif own.is_basis:
            bases[own.key] = index
        else:
            found[own.key] = BoundOwn(own, index, header)
    for key in bases.keys() - found.keys():
        faults.add(name, 1, f"{PREFIX}{key}:basis", "", _("Its value has no column."), _("Add it."))
    return tuple(BoundOwn(o.own, o.index, o.header, bases.get(key)) for key, o in found.items())
