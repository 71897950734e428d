"""A flat file of lives, one row a place: read strictly, every complaint with line and column.

Columns: `cluster` (which vehicle), `entry_day` (optional, 0 when left out), `clean_day` (last day
seen clean, blank = never), `failed_day` (day found failed, blank = none); optionally
`all_clean_day` and `all_failed_day` with callbacks counted when they happened. Every other column
is a factor: texts are levels, a header ending in ":number" is cut at its tertiles and named without
the suffix. UTF-8 with or without a byte order mark; comma or semicolon.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np

from .arrays import IntArray
from .exposure import LONGEST_LIFE, NEVER, Lives
from .patterns import Factor
from .questions import Question, factor_from_numbers, factor_from_text

DAY_COLUMNS = ("entry_day", "clean_day", "failed_day", "all_clean_day", "all_failed_day")
REQUIRED = ("cluster", "clean_day", "failed_day")
NUMBER_SUFFIX = ":number"
USUAL_ADJUSTMENT = ("panel", "edge", "place", "place_kind", "installer", "film")
ALWAYS_ADJUSTED = "installer"
SYSTEM_RECORDED = frozenset({"lot", "date", "quarter", "installer", "film", "product"})
MOST_COMPLAINTS = 50


class Wrong(Enum):
    """What can be wrong, in English words with places for what is meant."""

    NOT_UTF8 = "not UTF-8. Save the file as UTF-8 first"
    NO_TABLE = "not a table: {why}"
    NO_ROW = "no row below the header"
    CELLS = "{found} cells where the header has {expected}"
    MISSING = "the column is missing"
    TWICE = "two columns of this name"
    NAMELESS = "the column has no name"
    NO_FACTOR = "there is no factor column of this name"
    NO_DAY = "{cell} is not a whole number of days"
    NO_NUMBER = "{cell} is not a number"
    NO_CLUSTER = "blank: which vehicle the place is on must be said"
    CLEAN_EARLY = "seen clean before entry_day"
    FAILED_EARLY = "not after {clean} and entry_day: a failure is found later than both"
    CENTURY = "a day more than a century on"


@dataclass(frozen=True, slots=True)
class Complaint:
    """What is wrong where: line counts from 1 (the header), column is its header text."""

    line: int
    column: str
    wrong: Wrong
    values: tuple[tuple[str, str], ...] = ()

    @property
    def problem(self) -> str:
        return self.wrong.value.format(**dict(self.values))

    def __str__(self) -> str:
        place = f"line {self.line}" + (f", column {self.column}" if self.column else "")
        return f"{place}: {self.problem}"


class BadFile(ValueError):
    """The file cannot be reviewed; `complaints` say why, at most fifty of them."""

    def __init__(self, complaints: Sequence[Complaint]) -> None:
        self.complaints = tuple(complaints[:MOST_COMPLAINTS])
        super().__init__("\n".join(map(str, self.complaints)))


@dataclass(frozen=True, slots=True, eq=False)
class _Rows:
    """Columns by header, and the line each row ends on."""

    headers: tuple[str, ...]
    columns: tuple[tuple[str, ...], ...]
    lines: tuple[int, ...]

    def column(self, header: str) -> tuple[str, ...] | None:
        return self.columns[self.headers.index(header)] if header in self.headers else None


def read_question(
    text: str, factors: Sequence[str] | None = None, adjust: Sequence[str] | None = None
) -> Question:
    """The review a flat file asks for.

    factors  names to claim; None claims every factor column that is not in `adjust`
    adjust   names that enter every fit and are not claimed; None takes the usual ones that occur
             (panel, edge, place, place_kind, installer, film), which then are claimed as well. A
             column `installer` always enters.

    Raises BadFile with line and column, and for names the file does not have.
    """
    rows = _rows(text)
    complaints: list[Complaint] = []
    days = {name: _days(rows, name, complaints) for name in DAY_COLUMNS}
    cluster = _clusters(rows, complaints)
    coded = [_factor(rows, header, complaints) for header in _factor_headers(rows)]
    names = [f.name for f in coded]
    for wanted in (*(factors or ()), *(adjust or ())):
        if wanted not in names:
            complaints.append(Complaint(1, wanted, Wrong.NO_FACTOR))
    if complaints:
        raise BadFile(complaints)
    lives = _lives(rows, days["entry_day"], days["clean_day"], days["failed_day"], cluster, "")
    return _question(rows, lives, days, cluster, coded, factors, adjust)


def _question(
    rows: _Rows,
    lives: Lives,
    days: dict[str, IntArray],
    cluster: IntArray,
    coded: Sequence[Factor],
    factors: Sequence[str] | None,
    adjust: Sequence[str] | None,
) -> Question:
    names = [f.name for f in coded]
    entering = [n for n in USUAL_ADJUSTMENT if n in names] if adjust is None else list(adjust)
    if ALWAYS_ADJUSTED in names and ALWAYS_ADJUSTED not in entering:
        entering.append(ALWAYS_ADJUSTED)
    not_claimed = set(adjust or ())
    claimed = [n for n in (names if factors is None else factors) if n not in not_claimed]
    everything = None
    if rows.column("all_clean_day") is not None or rows.column("all_failed_day") is not None:
        clean, failed = days["all_clean_day"], days["all_failed_day"]
        everything = _lives(rows, days["entry_day"], clean, failed, cluster, "all_")
    return Question(
        lives=lives,
        factors=tuple(coded),
        claimed=tuple(dict.fromkeys(claimed)),
        adjustment=tuple(dict.fromkeys(entering)),
        everything=everything,
        system_recorded=SYSTEM_RECORDED & set(names),
    )


def _rows(text: str) -> _Rows:
    text = text.removeprefix("\ufeff")
    first = text.split("\n", 1)[0]
    delimiter = ";" if first.count(";") > first.count(",") else ","
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    kept: list[list[str]] = []
    lines: list[int] = []
    try:
        headers = tuple(h.strip() for h in next(reader, []))
        _check_headers(headers)
        for row in reader:
            if not any(cell.strip() for cell in row):
                continue
            if len(row) != len(headers):
                counts = (("found", str(len(row))), ("expected", str(len(headers))))
                raise BadFile([Complaint(reader.line_num, "", Wrong.CELLS, counts)])
            kept.append(row)
            lines.append(reader.line_num)
    except csv.Error as broken:
        why = (("why", str(broken)),)
        raise BadFile([Complaint(reader.line_num, "", Wrong.NO_TABLE, why)]) from broken
    if not kept:
        raise BadFile([Complaint(1, "", Wrong.NO_ROW)])
    columns = tuple(tuple(cell.strip() for cell in column) for column in zip(*kept, strict=True))
    return _Rows(headers, columns, tuple(lines))


def _check_headers(headers: Sequence[str]) -> None:
    names = [h.removesuffix(NUMBER_SUFFIX) for h in headers]
    complaints = [Complaint(1, name, Wrong.MISSING) for name in REQUIRED if name not in headers]
    complaints += [Complaint(1, name, Wrong.TWICE) for name in dict.fromkeys(names) if names.count(name) > 1]
    if "" in names:
        complaints.append(Complaint(1, f"number {names.index('') + 1}", Wrong.NAMELESS))
    if complaints:
        raise BadFile(complaints)


def _factor_headers(rows: _Rows) -> list[str]:
    return [h for h in rows.headers if h != "cluster" and h not in DAY_COLUMNS]


def _days(rows: _Rows, name: str, complaints: list[Complaint]) -> IntArray:
    """Days of a column; blank is NEVER, in `entry_day` 0."""
    blank = 0 if name == "entry_day" else NEVER
    cells = rows.column(name)
    days = np.full(len(rows.lines), blank, dtype=np.int64)
    if cells is None:
        return days
    for i, cell in enumerate(cells):
        if not cell:
            continue
        if cell.isascii() and cell.isdigit() and len(cell) <= 9:
            days[i] = int(cell)
        else:
            complaints.append(Complaint(rows.lines[i], name, Wrong.NO_DAY, (("cell", repr(cell)),)))
    return days


def _clusters(rows: _Rows, complaints: list[Complaint]) -> IntArray:
    cells = rows.column("cluster") or ()
    for line, cell in zip(rows.lines, cells, strict=True):
        if not cell:
            complaints.append(Complaint(line, "cluster", Wrong.NO_CLUSTER))
    number: dict[str, int] = {}
    return np.fromiter((number.setdefault(c, len(number)) for c in cells), dtype=np.int64, count=len(cells))


def _factor(rows: _Rows, header: str, complaints: list[Complaint]) -> Factor:
    cells = rows.column(header) or ()
    if not header.endswith(NUMBER_SUFFIX):
        return factor_from_text(header, cells)
    numbers = [_number(line, header, cell, complaints) for line, cell in zip(rows.lines, cells, strict=True)]
    return factor_from_numbers(header.removesuffix(NUMBER_SUFFIX), numbers)


def _number(line: int, header: str, cell: str, complaints: list[Complaint]) -> float:
    if not cell:
        return math.nan
    try:
        number = float(cell)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        complaints.append(Complaint(line, header, Wrong.NO_NUMBER, (("cell", repr(cell)),)))
        return math.nan
    return number


def _lives(
    rows: _Rows, entry: IntArray, clean: IntArray, failed: IntArray, cluster: IntArray, prefix: str
) -> Lives:
    """Check the days row by row, so that every wrong row is named and not only the first."""
    last_clean = np.maximum(entry, clean)
    rules = (
        (clean != NEVER) & (clean < entry),
        (failed != NEVER) & (failed <= last_clean),
        np.maximum(last_clean, failed) > LONGEST_LIFE,
    )
    named = (f"{prefix}clean_day", f"{prefix}failed_day", f"{prefix}clean_day")
    wrongs = (Wrong.CLEAN_EARLY, Wrong.FAILED_EARLY, Wrong.CENTURY)
    complaints = [
        Complaint(rows.lines[i], column, wrong, (("clean", f"{prefix}clean_day"),))
        for broken, column, wrong in zip(rules, named, wrongs, strict=True)
        for i in np.flatnonzero(broken)[:MOST_COMPLAINTS]
    ]
    if complaints:
        raise BadFile(sorted(complaints, key=lambda c: c.line))
    return Lives(entry, clean, failed, cluster)
