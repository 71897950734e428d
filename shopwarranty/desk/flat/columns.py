"""What a column of the flat files is. The tables themselves: `job_columns`, `finding_columns`."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from shopwarranty.trade.technique import FieldKind, TechniqueField
from shopwarranty.trade.technique import Unit as TradeUnit

Words = str | Promise


class Level(StrEnum):
    """What a column speaks of. Columns of a wider level repeat on every row, and agree."""

    JOB = "job"
    PANEL = "panel"
    PIECE = "piece"
    PLACE = "place"
    VISIT = "visit"
    FINDING = "finding"


class Kind(StrEnum):
    TEXT = "text"
    WORD = "word"
    YES_NO = "yes_no"
    WHOLE = "whole"
    NUMBER = "number"
    MONEY = "money"
    DAY = "day"
    MOMENT = "moment"
    ENTRIES = "entries"


class Unit(StrEnum):
    """The end of a header; the first of a column's units is the one that is written."""

    CELSIUS = "c"
    FAHRENHEIT = "f"
    MM = "mm"
    INCH = "in"
    HOURS = "h"
    MINUTES = "min"
    PERCENT = "percent"
    KM = "km"


DEGREES = (Unit.CELSIUS, Unit.FAHRENHEIT)
LENGTHS = (Unit.MM, Unit.INCH)


@dataclass(frozen=True, slots=True)
class Column:
    """One column. `name` is what records call it; `stem` begins its header, where the name does not.

    `words`: what a WORD may be. `longest`: characters of a text. `least`, `most`: of a number, as stored.
    `filled`: what an empty cell means, where that is more than "not recorded".
    """

    name: str
    level: Level
    kind: Kind
    meaning: Words
    stem: str = ""
    units: tuple[Unit, ...] = ()
    words: tuple[str, ...] = ()
    longest: int = 0
    least: float | None = None
    most: float | None = None
    needed: bool = False
    basis_of: str = ""

    @property
    def header(self) -> str:
        return next(iter(self.headers))

    @property
    def headers(self) -> Mapping[str, Unit | None]:
        """Every header it is read by, with the unit that header means."""
        stem = self.stem or self.name
        return {f"{stem}_{unit}": unit for unit in self.units} or {stem: None}


def text(name: str, level: Level, longest: int, meaning: Words, **more: object) -> Column:
    return Column(name, level, Kind.TEXT, meaning, longest=longest, **more)  # type: ignore[arg-type]


def word(name: str, level: Level, words: Iterable[str], meaning: Words, **more: object) -> Column:
    return Column(name, level, Kind.WORD, meaning, words=tuple(words), **more)  # type: ignore[arg-type]


def keys_of(choices: Iterable[object]) -> tuple[str, ...]:
    """The keys of one of the trade's lists, in its order."""
    return tuple(str(choice.key) for choice in choices)  # type: ignore[attr-defined]


BASES = ("stated", "measured", "by_method", "imported")
TRADE_UNITS: Mapping[TradeUnit, tuple[str, tuple[Unit, ...]]] = {
    TradeUnit.CELSIUS: ("_c", DEGREES),
    TradeUnit.MM: ("_mm", LENGTHS),
    TradeUnit.HOURS: ("_h", (Unit.HOURS,)),
    TradeUnit.MINUTES: ("_min", (Unit.MINUTES,)),
}
STEMS = {"post_heat_c": "post_heat_temperature"}


def technique(level: Level, fields: Iterable[TechniqueField]) -> Iterator[Column]:
    """Two columns for each technique field: its value, and how that is known."""
    for field in fields:
        value = _technique_value(level, field)
        yield value
        yield basis_column(value)


def basis_column(value: Column) -> Column:
    stem = f"{value.stem or value.name}_basis"
    meaning = _("How the value before it is known; empty: imported.")
    return word(f"{value.name}_basis", value.level, BASES, meaning, stem=stem, basis_of=value.name)


def _technique_value(level: Level, field: TechniqueField) -> Column:
    suffix, units = TRADE_UNITS.get(field.unit, ("", ())) if field.unit else ("", ())
    return Column(
        field.key,
        level,
        _kind_of(field),
        _(field.words),
        stem=STEMS.get(field.key, field.key.removesuffix(suffix)),
        units=units,
        words=tuple(choice.key for choice in field.choices),
        least=None if field.unit in (None, TradeUnit.CELSIUS) else 0,
        most=32767 if field.whole else None,
    )


def _kind_of(field: TechniqueField) -> Kind:
    if field.kind is FieldKind.YES_NO:
        return Kind.YES_NO
    if field.kind is FieldKind.CHOICE:
        return Kind.WORD
    return Kind.WHOLE if field.whole else Kind.NUMBER


def of_level(columns: Iterable[Column], level: Level) -> tuple[Column, ...]:
    return tuple(column for column in columns if column.level is level)
