"""Doubts about a reading as typed: the other unit, or a value nobody reads in a bay.

A doubt asks and never blocks. The ranges are of what is read in a bay, not of what a film or a vehicle bears:
there is no limit but the film's own. Common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from shopwarranty.trade.units import Typed, Unit, celsius


class Quantity(StrEnum):
    AIR = "air"
    SURFACE = "surface"
    HEAT = "heat"  # forming or post-heat, at the film
    HUMIDITY = "humidity"
    WRAP_IN = "wrap_in"


class DoubtKind(StrEnum):
    OTHER_UNIT = "other_unit"
    UNUSUAL = "unusual"


@dataclass(frozen=True, slots=True)
class Doubt:
    """`meant` is the unit the number would be plausible in; None when the value is unusual in any."""

    kind: DoubtKind
    words: str
    meant: Unit | None = None
    meant_stored: float | None = None


@dataclass(frozen=True, slots=True)
class Range:
    """Inclusive, in C, percent or mm."""

    least: float
    most: float

    def holds(self, value: float) -> bool:
        return self.least <= value <= self.most


C_OR_F = "C or F?"
LOOK_AGAIN = "Is this what was read? Look again, then confirm."
PHRASES = (C_OR_F, LOOK_AGAIN)

# `PLAUSIBLE`: what is usually meant, to tell C from F. `READABLE`: beyond it somebody is asked to look again.
PLAUSIBLE = {
    Quantity.AIR: Range(0, 45),
    Quantity.SURFACE: Range(0, 45),
    Quantity.HEAT: Range(38, 130),
}
READABLE = {
    Quantity.AIR: Range(-15, 50),
    Quantity.SURFACE: Range(-15, 80),
    Quantity.HEAT: Range(25, 160),
    Quantity.HUMIDITY: Range(5, 99),
    Quantity.WRAP_IN: Range(0, 150),
}


def doubts(quantity: Quantity, typed: Typed) -> tuple[Doubt, ...]:
    """At most one doubt: the other unit comes before the range, since it explains it."""
    other = _other_unit(quantity, typed)
    if other:
        return (other,)
    if READABLE[quantity].holds(typed.stored):
        return ()
    return (Doubt(DoubtKind.UNUSUAL, LOOK_AGAIN),)


def _other_unit(quantity: Quantity, typed: Typed) -> Doubt | None:
    if quantity not in PLAUSIBLE or typed.unit not in (Unit.CELSIUS, Unit.FAHRENHEIT):
        return None
    meant = Unit.FAHRENHEIT if typed.unit is Unit.CELSIUS else Unit.CELSIUS
    stored, plausible = celsius(typed.exact, meant), PLAUSIBLE[quantity]
    if plausible.holds(typed.stored) or not plausible.holds(stored):
        return None
    return Doubt(DoubtKind.OTHER_UNIT, C_OR_F, meant, stored)
