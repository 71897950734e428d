"""Readings that look like the other unit: told, never refused."""

from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from django.utils.translation import gettext as _

from shopwarranty.trade import readings, units
from shopwarranty.trade.readings import Quantity

from .columns import Unit
from .reading import Sheet
from .records import PanelValues, PlaceValues

TRADE: Final = {Unit.CELSIUS: units.Unit.CELSIUS, Unit.FAHRENHEIT: units.Unit.FAHRENHEIT}


class Doubter:
    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet

    def of_place(self, values: PlaceValues) -> tuple[str, ...]:
        return tuple(self._said((("post_heat_c", Quantity.HEAT, values.post_heat_c),)))

    def of_panel(self, values: PanelValues) -> tuple[str, ...]:
        return tuple(
            self._said(
                (
                    ("forming_heat_c", Quantity.HEAT, values.forming_heat_c),
                    ("air_c", Quantity.AIR, values.air_c),
                    ("surface_c", Quantity.SURFACE, values.surface_c),
                )
            )
        )

    def _said(self, named: tuple[tuple[str, Quantity, float | None], ...]) -> Iterator[str]:
        for name, quantity, stored in named:
            if stored is None:
                continue
            unit = TRADE[self.sheet.unit_of(name) or Unit.CELSIUS]
            typed = in_unit(stored, unit)
            if readings.doubts(quantity, typed):
                yield _("%(column)s: is %(value)g %(unit)s what was read? Look again: C or F?") % {
                    "column": self.sheet.header_of(name),
                    "value": typed.number,
                    "unit": unit.value,
                }


def in_unit(stored: float, unit: units.Unit) -> units.Typed:
    exact = Fraction(str(stored if unit is units.Unit.CELSIUS else units.fahrenheit(stored)))
    return units.Typed("", exact, unit, stored)


def typed_text(stored: float, unit: Unit | None) -> str:
    """Number and unit as a file has them whose header names that unit."""
    if unit is Unit.FAHRENHEIT:
        return f"{units.fahrenheit(stored):g} F"
    if unit is Unit.INCH:
        return f"{units.out_of_mm(stored, units.Unit.INCH):g} in"
    return f"{stored:g} {'mm' if unit is Unit.MM else 'C'}"
