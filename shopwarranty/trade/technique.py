"""The technique a shop controls: every field with its level, kind, unit and choices.

Values are JSON-able: True/False, a choice's key, or a number in SI (C, mm, minutes, hours). None means "not
recorded" in a record and "the method does not say" in a method. No field carries a limit: what a film bears
is in the film's own data.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from shopwarranty.trade import words
from shopwarranty.trade.panels import PlaceKind
from shopwarranty.trade.words import Choice

Value = bool | int | float | str | None

EVERY_PLACE = frozenset(PlaceKind)
ENDS = frozenset({PlaceKind.EDGE, PlaceKind.SEAM})
LINES = frozenset({PlaceKind.EDGE, PlaceKind.RECESS, PlaceKind.SEAM})


class Level(StrEnum):
    JOB = "job"
    PANEL = "panel"
    PLACE = "place"


class FieldKind(StrEnum):
    YES_NO = "yes_no"
    CHOICE = "choice"
    NUMBER = "number"


class Unit(StrEnum):
    CELSIUS = "C"
    MM = "mm"
    COUNT = "count"
    MINUTES = "min"
    HOURS = "h"


@dataclass(frozen=True, slots=True)
class TechniqueField:
    """`places` are the kinds of place a place field makes sense for; `whole` numbers have no fraction."""

    key: str
    level: Level
    kind: FieldKind
    words: str
    unit: Unit | None = None
    choices: tuple[Choice, ...] = ()
    places: frozenset[PlaceKind] = EVERY_PLACE
    whole: bool = False


NO_ANSWER = "yes or no is wanted"
NO_NUMBER = "a number is wanted"
NOT_WHOLE = "a whole number is wanted"
NEGATIVE = "a number of at least 0 is wanted"
NO_CHOICE = "one of %(words)s is wanted"
REASONS = (NO_ANSWER, NO_NUMBER, NOT_WHOLE, NEGATIVE, NO_CHOICE)


class ValueRefused(ValueError):
    """A value does not fit its field. `reason` is plain English without the value, one of REASONS filled."""

    def __init__(self, field: TechniqueField, value: object, reason: str) -> None:
        super().__init__(f"{field.words}: {value!r}: {reason}")
        self.field, self.value, self.reason = field, value, reason


def _yes_no(key: str, level: Level, text: str, places: frozenset[PlaceKind] = EVERY_PLACE) -> TechniqueField:
    return TechniqueField(key, level, FieldKind.YES_NO, text, places=places)


def _choice(key: str, level: Level, text: str, choices: tuple[Choice, ...]) -> TechniqueField:
    return TechniqueField(key, level, FieldKind.CHOICE, text, choices=choices, places=LINES)


def _number(
    key: str, level: Level, text: str, unit: Unit, places: frozenset[PlaceKind] = EVERY_PLACE
) -> TechniqueField:
    whole = unit is Unit.COUNT
    return TechniqueField(key, level, FieldKind.NUMBER, text, unit, places=places, whole=whole)


FIELDS: tuple[TechniqueField, ...] = (
    _yes_no("decontaminated", Level.JOB, "decontaminated"),
    _number("acclimatised_h", Level.JOB, "film in the room before laying", Unit.HOURS),
    _choice("squeegee", Level.JOB, "squeegee", words.SQUEEGEES),
    _number("recheck_min", Level.JOB, "looked at again after cooling", Unit.MINUTES),
    _number("dwell_h", Level.JOB, "rest before handover", Unit.HOURS),
    _yes_no("washed", Level.PANEL, "washed"),
    _yes_no("solvent_wiped", Level.PANEL, "wiped with solvent"),
    _yes_no("blown_off", Level.PANEL, "gaps blown off"),
    _yes_no("static_step", Level.PANEL, "static taken off"),
    _choice("laid", Level.PANEL, "laid", words.LAID),
    _number("forming_heat_c", Level.PANEL, "forming heat", Unit.CELSIUS),
    _choice("stretch", Level.PANEL, "stretch", words.STRETCH),
    _choice("hardware", Level.PANEL, "hardware", words.HARDWARE),
    _yes_no("blade_fresh", Level.PANEL, "fresh blade"),
    _choice("blade_kind", Level.PANEL, "blade", words.BLADE_KINDS),
    _yes_no("post_heated", Level.PLACE, "post-heated"),
    _number("post_heat_c", Level.PLACE, "post-heat temperature", Unit.CELSIUS),
    _number("passes", Level.PLACE, "passes", Unit.COUNT),
    _number("wrap_in_wanted_mm", Level.PLACE, "wrap-in wanted", Unit.MM, ENDS),
    _number("wrap_in_reached_mm", Level.PLACE, "wrap-in reached", Unit.MM, ENDS),
    _choice("covered_by", Level.PLACE, "covered by", words.COVERED_BY),
    _yes_no("left_short", Level.PLACE, "left short on purpose", ENDS),
    _yes_no("primer", Level.PLACE, "primer", LINES),
    _yes_no("cut_on_panel", Level.PLACE, "cut on the panel", LINES),
)

BY_KEY: dict[str, TechniqueField] = {field.key: field for field in FIELDS}


def fields(level: Level, place: PlaceKind | None = None) -> tuple[TechniqueField, ...]:
    """Fields of a level, for place fields only those that make sense for the kind of place."""
    return tuple(f for f in FIELDS if f.level is level and (place is None or place in f.places))


def accept(field: TechniqueField, value: object) -> Value:
    """The value as stored, or None when nothing was said. Raises ValueRefused."""
    if value is None:
        return None
    if field.kind is FieldKind.YES_NO:
        return _accept_yes_no(field, value)
    if field.kind is FieldKind.CHOICE:
        return _accept_choice(field, value)
    return _accept_number(field, value)


def all_words() -> tuple[str, ...]:
    return tuple(sorted({*(f.words for f in FIELDS), *REASONS} - {NO_CHOICE}))


def _accept_yes_no(field: TechniqueField, value: object) -> bool:
    if not isinstance(value, bool):
        raise ValueRefused(field, value, NO_ANSWER)
    return value


def _accept_choice(field: TechniqueField, value: object) -> str:
    allowed = [choice.key for choice in field.choices]
    if not isinstance(value, str) or value not in allowed:
        raise ValueRefused(field, value, NO_CHOICE % {"words": _listed(allowed)})
    return value


def _accept_number(field: TechniqueField, value: object) -> int | float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueRefused(field, value, NO_NUMBER)
    if value != value or value in (float("inf"), float("-inf")):
        raise ValueRefused(field, value, NO_NUMBER)
    if field.whole and value != int(value):
        raise ValueRefused(field, value, NOT_WHOLE)
    if field.unit is not Unit.CELSIUS and value < 0:
        raise ValueRefused(field, value, NEGATIVE)
    return int(value) if field.whole else value


def _listed(allowed: Iterable[str]) -> str:
    return ", ".join(allowed)
