"""A reading as it is taken: each number with the unit it was read in, and a question where it looks odd."""

from collections.abc import Iterable
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopwarranty.trade import units
from shopwarranty.trade.readings import Doubt, Quantity, doubts
from shopwarranty.trade.words import INSTRUMENTS
from shopwarranty.web.fields import MomentField
from shopwarranty.web.trade_names import first_upper

from ..actions import Conditions
from ..models import Reading
from ..record_parts import PanelRecord
from .technique import degree_unit

MEANT = "meant__"
DEGREES = {"air": Quantity.AIR, "surface": Quantity.SURFACE}


# Where a stepper begins when nothing was read yet; nothing is filled in by itself.
STARTS = {"air": 20.0, "surface": 20.0, "humidity": 50.0}


class ReadingForm(forms.Form):
    """`conditions()` gives what was read in C and percent, with value and unit as typed."""

    air = forms.FloatField(label=gettext_lazy("Air"), required=False)
    surface = forms.FloatField(label=gettext_lazy("Panel"), required=False)
    humidity = forms.FloatField(label=gettext_lazy("Humidity, %"), required=False, min_value=0, max_value=100)
    unit = forms.ChoiceField(label=gettext_lazy("Read in"), widget=forms.RadioSelect, required=False)
    panel = forms.ChoiceField(
        label=gettext_lazy("Taken for"),
        required=False,
        help_text=gettext_lazy("A reading of one panel counts for that panel alone."),
    )
    instrument = forms.ChoiceField(label=gettext_lazy("Instrument"), required=False)
    at = MomentField(
        label=gettext_lazy("When"),
        required=False,
        help_text=gettext_lazy("Empty: now. An earlier time marks a late entry."),
    )

    def __init__(
        self,
        *args: Any,
        shop: Any,
        last: Reading | None = None,
        panels: Iterable[PanelRecord] = (),
        **more: Any,
    ) -> None:
        super().__init__(*args, **more)
        self.shop, here = shop, degree_unit(shop)
        other = units.Unit.CELSIUS if here is units.Unit.FAHRENHEIT else units.Unit.FAHRENHEIT
        self.fields["unit"].choices = [(str(here), f"°{here}"), (str(other), f"°{other}")]  # type: ignore[attr-defined]
        self.initial.setdefault("unit", str(here))
        named_panels = [(str(panel.id), first_upper(panel.name)) for panel in panels]
        self.fields["panel"].choices = [("", _("The whole vehicle")), *named_panels]  # type: ignore[attr-defined]
        named = [(each.key, first_upper(_(each.words))) for each in INSTRUMENTS]
        self.fields["instrument"].choices = [("", _("Not recorded")), *named]  # type: ignore[attr-defined]
        self.widgets(last)
        self.ask()

    def widgets(self, last: Reading | None) -> None:
        """The first press on an empty stepper starts at the last reading; nothing is filled in by itself."""
        fahrenheit = degree_unit(self.shop) is units.Unit.FAHRENHEIT
        for name, column in (("air", "air_c"), ("surface", "surface_c"), ("humidity", "humidity")):
            start = getattr(last, column, None)
            start = STARTS[name] if start is None else start
            if name in DEGREES and fahrenheit:
                start = units.fahrenheit(start)
            self.fields[name].widget = forms.NumberInput({"step": "1", "data-usual": f"{start:.0f}"})

    def ask(self) -> None:
        for name in DEGREES:
            if self.is_bound and (doubt := self.doubt_of(name)):
                self.fields[MEANT + name] = self.question(name, doubt)
        if self.is_bound and (doubt := self.doubt_of("humidity")):
            self.fields[MEANT + "humidity"] = self.question("humidity", doubt)

    def typed(self, name: str) -> units.Typed | None:
        text = str(self.data.get(self.add_prefix(name), "")).strip()
        try:
            if not text:
                return None
            return units.humidity(text) if name == "humidity" else units.temperature(text, self.unit_read())
        except units.NotAMeasure:
            return None

    def unit_read(self) -> units.Unit:
        said = str(self.data.get(self.add_prefix("unit"), ""))
        return units.Unit(said) if said in ("C", "F") else degree_unit(self.shop)

    def doubt_of(self, name: str) -> Doubt | None:
        typed = self.typed(name)
        quantity = DEGREES.get(name, Quantity.HUMIDITY)
        return next(iter(doubts(quantity, typed)), None) if typed else None

    def question(self, name: str, doubt: Doubt) -> forms.Field:
        typed, sign = self.typed(name), "%" if name == "humidity" else f"°{self.unit_read()}"
        assert typed is not None
        here = "%" if name == "humidity" else str(self.unit_read())
        choices = [(here, _("%(value)s, as read") % {"value": f"{typed.number:g} {sign}"})]
        if doubt.meant:
            choices.append((str(doubt.meant), f"{typed.number:g} °{doubt.meant}"))
        return forms.ChoiceField(
            label=f"{self.fields[name].label}: {_(doubt.words)}",
            choices=choices,
            widget=forms.RadioSelect,
            error_messages={"required": _("Say which is meant, then save again.")},
        )

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        if all(values.get(name) is None for name in ("air", "surface", "humidity")) and not self.errors:
            raise forms.ValidationError(
                _("Nothing is typed yet. What was not measured stays empty; one figure is enough.")
            )
        return values

    def conditions(self) -> Conditions:
        air, surface = self.degrees("air"), self.degrees("surface")
        return Conditions(
            air_c=air.stored if air else None,
            surface_c=surface.stored if surface else None,
            humidity=self.cleaned_data["humidity"],
            air_typed=air.text if air else "",
            surface_typed=surface.text if surface else "",
            instrument=self.cleaned_data["instrument"],
        )

    def degrees(self, name: str) -> units.Typed | None:
        value = self.cleaned_data[name]
        if value is None:
            return None
        unit = units.Unit(self.cleaned_data.get(MEANT + name) or self.unit_read())
        return units.temperature(f"{value:g} {unit}", unit)
