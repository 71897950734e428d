"""One cell: its text as a value in SI, and back. Empty cells are no business of this module."""

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from decimal import Decimal
from typing import Any, Final, NoReturn
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from shopwarranty.trade import units as trade_units

from .columns import Column, Kind, Unit
from .entries import join_entries, split_entries
from .guarding import guard, unguard

Parser = Callable[[str], Any]
DAY: Final = re.compile(r"\d{4}-\d\d-\d\d")
MOMENT: Final = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d(\.\d{1,6})?)?(Z|[+-]\d\d:\d\d)")
NO_OFFSET: Final = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d(\.\d{1,6})?)?")
NUMBER: Final = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d{1,3})?")
SUM: Final = re.compile(r"\d{1,8}(\.\d{1,2})?")
EITHER_WAY: Final = re.compile(r"[-+]?[1-9]\d{0,2},\d{3}")
MOST_CHARACTERS: Final = 40
YEARS: Final = range(1900, 2201)


class CellRefused(ValueError):
    """The text is no such value. `problem` and `remedy` are sentences."""

    def __init__(self, problem: str, remedy: str = "") -> None:
        super().__init__(problem)
        self.problem, self.remedy = problem, remedy


@dataclass(frozen=True, slots=True)
class Style:
    """How a file writes. A decimal comma is read where semicolons part the cells; bare days are of `zone`."""

    zone: ZoneInfo
    decimal_comma: bool = False


def parser_of(column: Column, unit: Unit | None, style: Style) -> Parser:
    """What reads the stripped, filled cells of this column."""
    kind = column.kind
    if kind is Kind.TEXT:
        return _text_parser(column.longest)
    if kind is Kind.WORD:
        return _word_parser(column.words)
    if kind in (Kind.NUMBER, Kind.WHOLE):
        return _number_parser(column, unit, style)
    if kind is Kind.MOMENT:
        return lambda text: moment(text, style.zone)
    others: dict[Kind, Parser] = {
        Kind.YES_NO: yes_no,
        Kind.DAY: day,
        Kind.ENTRIES: lambda text: split_entries(unguard(text)),
        Kind.MONEY: lambda text: money(text, style.decimal_comma),
    }
    return others[kind]


def _text_parser(longest: int) -> Parser:
    def parse(text: str) -> str:
        plain = unguard(text)
        if len(plain) > longest:
            raise CellRefused(
                _("longer than %(longest)d characters.") % {"longest": longest}, _("Shorten it.")
            )
        if "\0" in plain:
            raise CellRefused(_("holds a character that is no text."), _("Type it anew."))
        return plain

    return parse


def _word_parser(words: tuple[str, ...]) -> Parser:
    known = {_plain(word): word for word in words}

    def parse(text: str) -> str:
        found = known.get(_plain(text))
        if found is None:
            raise CellRefused(
                _("is none of the words of this column."),
                _("Write one of: %(words)s.") % {"words": ", ".join(words)},
            )
        return found

    return parse


def _plain(word: str) -> str:
    return word.lower().replace("-", "_").replace(" ", "_")


def yes_no(text: str) -> bool:
    word = text.lower()
    if word not in ("yes", "no"):
        raise CellRefused(_("is neither yes nor no."), _("Write yes or no; leave it empty if not recorded."))
    return word == "yes"


def day(text: str) -> date:
    if not DAY.fullmatch(text):
        raise CellRefused(_("is no day."), _("Write it as 2026-11-25."))
    return _checked_day(text)


def _checked_day(text: str) -> date:
    try:
        found = date.fromisoformat(text)
    except ValueError as error:
        raise CellRefused(
            _("is no day of the calendar."), _("Write year-month-day, as 2026-11-25.")
        ) from error
    if found.year not in YEARS:
        raise CellRefused(_("lies too far off."), _("Check the year."))
    return found


def moment(text: str, zone: ZoneInfo) -> datetime:
    """In UTC, to the second. A bare day means its noon in `zone`."""
    if DAY.fullmatch(text):
        return noon(_checked_day(text), zone)
    if not MOMENT.fullmatch(text):
        problem = _("has no offset from UTC.") if NO_OFFSET.fullmatch(text) else _("is no moment.")
        raise CellRefused(problem, _("Write it as 2026-11-25T14:30-05:00, or the day alone."))
    _checked_day(text[:10])
    try:
        found = datetime.fromisoformat(text)
    except ValueError as error:
        raise CellRefused(_("is no time of a day."), _("Write it as 2026-11-25T14:30-05:00.")) from error
    return found.astimezone(UTC).replace(microsecond=0)


def noon(on: date, zone: ZoneInfo) -> datetime:
    return datetime.combine(on, time(12), tzinfo=zone).astimezone(UTC)


def money(text: str, decimal_comma: bool) -> Decimal:
    plain = text.replace(",", ".") if decimal_comma else text
    if not SUM.fullmatch(plain):
        raise CellRefused(_("is no sum of money."), _("Write it as 12.50, without a currency."))
    return Decimal(plain).quantize(Decimal("0.01"))


def _number_parser(column: Column, unit: Unit | None, style: Style) -> Parser:
    whole, convert = column.kind is Kind.WHOLE, CONVERSIONS.get(unit)

    def parse(text: str) -> float | int:
        typed = number(text, style.decimal_comma)
        value = convert(typed) if convert else typed
        _check_range(column, value)
        if not whole:
            return value
        if value != int(value):
            raise CellRefused(_("is no whole number."), _("Write it without a fraction."))
        return int(value)

    return parse


def number(text: str, decimal_comma: bool) -> float:
    if decimal_comma and "," in text:
        _refuse_either_way(text)
        text = text.replace(",", ".", 1)
    if len(text) > MOST_CHARACTERS or not NUMBER.fullmatch(text):
        raise CellRefused(
            _("is no number."), _("Write digits with a decimal point; the unit stands in the header.")
        )
    found = float(text)
    if not math.isfinite(found):
        raise CellRefused(_("is too large a number."), _("Check it."))
    return found


def _refuse_either_way(text: str) -> None:
    if EITHER_WAY.fullmatch(text):
        plain = text.replace(",", "")
        raise CellRefused(
            _("can be read either way."),
            _("Write %(whole)s or %(part)s.") % {"whole": plain, "part": text.replace(",", ".")},
        )


CONVERSIONS: Final[dict[Unit | None, Callable[[float], float]]] = {
    Unit.FAHRENHEIT: lambda value: trade_units.celsius(value, trade_units.Unit.FAHRENHEIT),
    Unit.INCH: lambda value: trade_units.millimetres(value, trade_units.Unit.INCH),
}


def _check_range(column: Column, value: float) -> None:
    if column.least is not None and value < column.least:
        _refuse_range(column)
    if column.most is not None and value > column.most:
        _refuse_range(column)


def _refuse_range(column: Column) -> NoReturn:
    least = "…" if column.least is None else f"{column.least:g}"
    most = "…" if column.most is None else f"{column.most:g}"
    raise CellRefused(
        _("lies outside what this column holds."),
        _("Write a number from %(least)s to %(most)s.") % {"least": least, "most": most},
    )


def written(value: Any) -> str:
    """A value of any kind as it is written to a file; "" for what is not recorded."""
    if value is None or value == "" or value == ():
        return ""
    if isinstance(value, str):
        return guard(value)
    writer = WRITERS.get(type(value))
    return writer(value) if writer else guard(join_entries(value))


def _written_number(value: float) -> str:
    return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)


WRITERS: Final[dict[type, Callable[[Any], str]]] = {
    bool: lambda value: "yes" if value else "no",
    int: str,
    float: _written_number,
    Decimal: lambda value: f"{value:.2f}",
    date: date.isoformat,
    datetime: lambda value: value.astimezone(UTC).isoformat(timespec="seconds"),
}
