"""Technique values on the rows of a job: what stands there, how it is known, how it is written as text.

A text column keeps "" for "not recorded", every other column NULL; both read as None here.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from shopwarranty.shops.rows import Basis
from shopwarranty.trade.panels import PlaceKind
from shopwarranty.trade.technique import BY_KEY, FieldKind, Level, TechniqueField, Value, fields

JOB_FIELDS = fields(Level.JOB)
PANEL_FIELDS = fields(Level.PANEL)
WANTED, REACHED = "wrap_in_wanted_mm", "wrap_in_reached_mm"

# Where the value as typed, with its unit, is kept.
TYPED_COLUMN = {
    "forming_heat_c": "forming_heat_typed",
    "post_heat_c": "post_heat_typed",
    REACHED: "wrap_in_typed",
}


@dataclass(frozen=True, slots=True)
class Said:
    """One value as somebody gave it; None says outright that it is not recorded."""

    value: Value
    basis: str = Basis.STATED
    typed: str = ""


@dataclass(frozen=True, slots=True)
class Recorded:
    """A value in SI, how it is known, and what was typed. `value` is None when not recorded."""

    value: Value
    basis: str
    typed: str = ""


NOT_RECORDED = Recorded(None, "")


def place_fields(kind: str) -> tuple[TechniqueField, ...]:
    return fields(Level.PLACE, PlaceKind(kind))


def value_of(row: Any, key: str) -> Value:
    value: Value = getattr(row, key)
    return None if value == "" else value


def recorded(row: Any, key: str) -> Recorded:
    value = value_of(row, key)
    if value is None:
        return NOT_RECORDED
    typed = getattr(row, TYPED_COLUMN[key]) if key in TYPED_COLUMN else ""
    return Recorded(value, getattr(row, f"{key}_basis"), typed)


def all_recorded(row: Any, of: tuple[TechniqueField, ...]) -> dict[str, Recorded]:
    return {field.key: recorded(row, field.key) for field in of}


def put(row: Any, key: str, said: Said) -> None:
    """Sets the columns of one field on an unsaved or loaded row; saves nothing."""
    empty = "" if BY_KEY[key].kind is FieldKind.CHOICE else None
    setattr(row, key, empty if said.value is None else said.value)
    setattr(row, f"{key}_basis", "" if said.value is None else said.basis)
    if key in TYPED_COLUMN:
        setattr(row, TYPED_COLUMN[key], "" if said.value is None else said.typed)


def columns_of(key: str) -> Iterator[str]:
    yield key
    yield f"{key}_basis"
    if key in TYPED_COLUMN:
        yield TYPED_COLUMN[key]


def as_text(value: Value) -> str:
    """As history and deviations keep it: yes, no, a choice's key, a number in SI; "" when not recorded."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)


def from_text(field: TechniqueField, text: str) -> Value:
    """The value that `as_text` wrote."""
    if text == "":
        return None
    if field.kind is FieldKind.YES_NO:
        return text == "yes"
    if field.kind is FieldKind.CHOICE:
        return text
    return int(float(text)) if field.whole else float(text)
