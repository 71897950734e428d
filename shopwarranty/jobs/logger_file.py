"""A temperature logger's CSV as rows: delimiter, decimal sign, unit, order of day and month. Pure.

Loggers write no common format, so what the file itself does not tell is asked, and what was read is shown
before anything is kept. Dew point to humidity by the Magnus form (17.62 and 243.12, as for the dew point).
"""

import csv
import io
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from typing import Final

AT_MOST: Final = 20_000
DELIMITERS: Final = (";", "\t", ",", "|")
TIME: Final = re.compile(r"time|date|zeit|datum|fecha|hora", re.IGNORECASE)
TEMPERATURE: Final = re.compile(
    r"temp|celsius|fahrenheit|°\s*[cf]|\bair\b|surface|panel|probe", re.IGNORECASE
)
SURFACE: Final = re.compile(r"surface|panel|probe|object", re.IGNORECASE)
HUMIDITY: Final = re.compile(r"humid|\brh\b|%|feucht|humedad", re.IGNORECASE)
DEW: Final = re.compile(r"dew|taupunkt|roc", re.IGNORECASE)
FAHRENHEIT: Final = re.compile(r"°\s*f\b|\(f\)|\bdeg\.?\s*f\b|fahrenheit|[_\s]f$", re.IGNORECASE)
CELSIUS: Final = re.compile(r"°\s*c\b|\(c\)|\bdeg\.?\s*c\b|celsius|[_\s]c$", re.IGNORECASE)
DAY: Final = re.compile(r"(\d{1,4})[./-](\d{1,2})[./-](\d{1,4})")
CLOCK: Final = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}))?(?:[.,]\d+)?\s*([ap]\.?m\.?)?", re.IGNORECASE)
OFFSET: Final = re.compile(r"\d\s*(Z|[+-]\d{2}:?\d{2})$")


class NotALoggerFile(ValueError):
    """No row names a time and a temperature, or nothing below it can be read."""


@dataclass(frozen=True, slots=True)
class Columns:
    """Positions in a row; `times` are one or two (day and clock apart)."""

    times: tuple[int, ...]
    air: int | None
    surface: int | None
    humidity: int | None
    dew: int | None


@dataclass(frozen=True, slots=True)
class Line:
    """As the file has it: degrees in the file's unit. `at` is aware."""

    at: datetime
    air: float | None
    surface: float | None
    humidity: float | None
    dew: float | None


@dataclass(frozen=True, slots=True)
class LoggerFile:
    """`unit` "C", "F" or "" when the file does not say; `day_first` None when it could be either."""

    delimiter: str
    decimal_comma: bool
    unit: str
    day_first: bool | None
    has_offsets: bool
    columns: Columns
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    def lines(self, *, zone: tzinfo, day_first: bool) -> tuple[Line, ...]:
        """In order of time; a row that cannot be read is left out."""
        made = (
            self._line(row, zone, self.day_first if self.day_first is not None else day_first)
            for row in self.rows
        )
        return tuple(sorted((line for line in made if line is not None), key=lambda line: line.at))

    def _line(self, row: tuple[str, ...], zone: tzinfo, day_first: bool) -> Line | None:
        at = moment(" ".join(row[one] for one in self.columns.times if one < len(row)), zone, day_first)
        air, surface, humidity, dew = (
            self._number(row, one)
            for one in (self.columns.air, self.columns.surface, self.columns.humidity, self.columns.dew)
        )
        if at is None or (air is None and surface is None):
            return None
        kept = humidity if humidity is not None and 0 <= humidity <= 100 else None
        return Line(at, air, surface, kept, dew)

    def _number(self, row: tuple[str, ...], column: int | None) -> float | None:
        if column is None or column >= len(row):
            return None
        text = row[column].strip().rstrip("°CF% ").replace("\u2212", "-")
        text = text.replace(".", "").replace(",", ".") if self.decimal_comma else text.replace(",", "")
        try:
            value = float(text)
        except ValueError:
            return None
        return value if math.isfinite(value) and abs(value) < 1000 else None


def read_logger_file(sent: bytes) -> LoggerFile:
    """Raises NotALoggerFile."""
    text = decoded(sent)
    for delimiter in DELIMITERS:
        rows = _table(text, delimiter)
        for number, head in enumerate(rows[:60]):
            columns = columns_of(head)
            if columns is not None:
                return _found(delimiter, columns, head, rows[number + 1 : number + 1 + AT_MOST])
    raise NotALoggerFile


def _table(text: str, delimiter: str) -> list[tuple[str, ...]]:
    """Nothing where this delimiter makes no table of it: a quotation mark that never ends, for one."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    try:
        return [tuple(cell.strip() for cell in row) for row in reader]
    except csv.Error:
        return []


def decoded(sent: bytes) -> str:
    if sent[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return sent.decode("utf-16", errors="replace").replace("\0", "")
    try:
        text = sent.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = sent.decode("cp1252", errors="replace")
    return text.replace("\0", "")


def columns_of(head: Sequence[str]) -> Columns | None:
    """None unless the row names a time and a temperature in cells of their own."""
    dew = _first(head, DEW)
    humidity = _first(head, HUMIDITY, but=(dew,))
    times = tuple(n for n, cell in enumerate(head) if TIME.search(cell) and n not in (dew, humidity))[:2]
    taken = (dew, humidity, *times)
    surface = _first(head, SURFACE, but=taken)
    air = _first(head, TEMPERATURE, but=(*taken, surface))
    if not times or (air is None and surface is None):
        return None
    return Columns(times, air, surface, humidity, dew)


def _first(head: Sequence[str], word: re.Pattern[str], but: Sequence[int | None] = ()) -> int | None:
    return next((n for n, cell in enumerate(head) if n not in but and word.search(cell)), None)


def _found(delimiter: str, columns: Columns, head: Sequence[str], rows: list[tuple[str, ...]]) -> LoggerFile:
    rows = [row for row in rows if any(row)]
    if not rows:
        raise NotALoggerFile
    named = [head[n] for n in (columns.air, columns.surface) if n is not None]
    unit = "F" if any(FAHRENHEIT.search(each) for each in named) else ""
    unit = unit or ("C" if any(CELSIUS.search(each) for each in named) else "")
    numbers = [
        row[n] for row in rows[:500] for n in (columns.air, columns.surface) if n is not None and n < len(row)
    ]
    comma = delimiter != "," and any(re.search(r"\d,\d", each) for each in numbers)
    times = [" ".join(row[n] for n in columns.times if n < len(row)) for row in rows]
    return LoggerFile(
        delimiter,
        comma,
        unit,
        day_order(times),
        any(OFFSET.search(each) for each in times[:50]),
        columns,
        tuple(head),
        tuple(rows),
    )


def day_order(times: Sequence[str]) -> bool | None:
    """Whether the day comes before the month; None when every day could be a month as well."""
    for text in times:
        found = DAY.search(text)
        if found is None or len(found[1]) == 4:
            continue
        if "." in found[0] or int(found[1]) > 12:
            return True
        if int(found[2]) > 12:
            return False
    years_first = any((found := DAY.search(text)) and len(found[1]) == 4 for text in times[:20])
    return True if years_first else None


def moment(text: str, zone: tzinfo, day_first: bool) -> datetime | None:
    day, clock = DAY.search(text), CLOCK.search(text)
    if day is None or clock is None:
        return None
    first, second, third = (int(part) for part in day.groups())
    year, month, date = (
        (first, second, third)
        if len(day[1]) == 4
        else (third, second, first)
        if day_first
        else (third, first, second)
    )
    hour = int(clock[1])
    if clock[4]:
        hour = hour % 12 + (12 if clock[4].lower().startswith("p") else 0)
    try:
        century = 2000 if year < 100 else 0
        parts = (year + century, month, date, hour, int(clock[2]), int(clock[3] or 0))
        return datetime(*parts, tzinfo=_offset(text) or zone)
    except ValueError:
        return None


def _offset(text: str) -> tzinfo | None:
    found = OFFSET.search(text)
    if found is None:
        return None
    if found[1] == "Z":
        return UTC
    parsed = datetime.strptime(found[1].replace(":", ""), "%z").tzinfo
    return parsed


def humidity_from_dew(air_c: float, dew_c: float) -> float | None:
    """Relative humidity in percent; None where the dew point lies above the air or far out of range."""
    if dew_c > air_c or not -45 < dew_c < 60 or not -45 < air_c < 60:
        return None
    saturated = 17.62 * air_c / (243.12 + air_c)
    return round(100 * math.exp(17.62 * dew_c / (243.12 + dew_c) - saturated), 1)


def thinned(lines: Sequence[Line], every: timedelta) -> tuple[Line, ...]:
    """One in each stretch of time, the first of it: a logger writes far more than a job needs."""
    kept: list[Line] = []
    for line in lines:
        if not kept or line.at - kept[-1].at >= every:
            kept.append(line)
    return tuple(kept)
