"""Form fields for lengths and temperatures: typed in the shop's units or with a unit, cleaned to `Typed`."""

from collections.abc import Callable
from typing import Any

from django import forms
from django.utils.translation import gettext as _

from shopwarranty.trade import units
from shopwarranty.trade.units import Typed, Unit

Reader = Callable[[str, Unit], Typed]


class QuantityField(forms.CharField):
    """Cleans to Typed or None. `unit` is meant where none is typed; set it with `in_units_of(form, shop)`."""

    def __init__(self, *, read: Reader, metric: Unit, us: Unit, **more: Any) -> None:
        super().__init__(max_length=24, **more)
        self.read, self.metric, self.us = read, metric, us
        self.unit = metric

    def use(self, shop_units: str) -> None:
        self.unit = self.us if shop_units == "us" else self.metric

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        try:
            return self.read(text, self.unit)
        except units.NotAMeasure as error:
            raise forms.ValidationError(error.said(_)) from error

    def prepare_value(self, value: Any) -> Any:
        """A stored number (C or mm) is shown in the shop's unit; what was typed comes back as it was."""
        if isinstance(value, int | float):
            return f"{shown(float(value), self.unit):g} {self.unit}"
        return value


def shown(stored: float, unit: Unit) -> float:
    if unit is Unit.CELSIUS:
        return round(stored, 1)
    if unit is Unit.FAHRENHEIT:
        return round(units.fahrenheit(stored), 1)
    return round(units.out_of_mm(stored, unit), 2)


def short_length(**more: Any) -> QuantityField:
    """mm or inches: wrap-in, sizes of a panel."""
    return QuantityField(read=units.span, metric=Unit.MM, us=Unit.INCH, **more)


def long_length(**more: Any) -> QuantityField:
    """metres or feet: what is on a roll."""
    return QuantityField(read=units.span, metric=Unit.METRE, us=Unit.FOOT, **more)


def degrees(**more: Any) -> QuantityField:
    return QuantityField(read=units.temperature, metric=Unit.CELSIUS, us=Unit.FAHRENHEIT, **more)


def in_units_of(form: forms.BaseForm, shop: Any) -> None:
    """Tells the form's quantity fields which units the shop uses, and shows them in the label's hint."""
    for field in form.fields.values():
        if isinstance(field, QuantityField):
            field.use(shop.units)
            field.widget.attrs.setdefault("inputmode", "decimal")
            field.help_text = field.help_text or _("In %(unit)s, or with its unit.") % {"unit": field.unit}
