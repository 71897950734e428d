"""The editor of a method: one field per technique field and part; empty means the method does not say."""

from collections.abc import Iterator
from typing import Any

from django import forms
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopwarranty.trade.panels import PlaceKind
from shopwarranty.trade.technique import FieldKind, Level, TechniqueField, Unit, fields
from shopwarranty.web.fields import MOST, YesNoNotRecorded
from shopwarranty.web.quantities import QuantityField, degrees, in_units_of, short_length

from .actions import as_technique_field
from .models import ShopField

PARTS: tuple[tuple[str, Any], ...] = (
    ("job", gettext_lazy("The job as a whole")),
    ("panel", gettext_lazy("Every panel")),
    ("edge", gettext_lazy("Edges")),
    ("recess", gettext_lazy("Recesses")),
    ("seam", gettext_lazy("Seams")),
    ("field", gettext_lazy("The surface")),
)


def fields_of_part(part: str, own: list[TechniqueField]) -> list[TechniqueField]:
    """The catalogue's fields and the shop's own ones for a part of the method."""
    if part in ("job", "panel"):
        level, known = Level(part), fields(Level(part))
    else:
        level, known = Level.PLACE, fields(Level.PLACE, PlaceKind(part))
    return [*known, *(field for field in own if field.level is level)]


def input_for(field: TechniqueField) -> forms.Field:
    """How a technique field is asked for when it may stay unsaid."""
    label = capfirst(_(field.words))
    if field.kind is FieldKind.YES_NO:
        return YesNoNotRecorded(label=label)
    if field.kind is FieldKind.CHOICE:
        choices = [("", _("Not said")), *((choice.key, _(choice.words)) for choice in field.choices)]
        return forms.ChoiceField(label=label, choices=choices, required=False)
    if field.unit is Unit.CELSIUS:
        return degrees(label=label, required=False)
    if field.unit is Unit.MM:
        return short_length(label=label, required=False)
    if field.whole:
        return forms.IntegerField(label=label, min_value=0, max_value=MOST, required=False)
    return forms.FloatField(
        label=f"{label} ({field.unit})" if field.unit else label, min_value=0, required=False
    )


class MethodForm(forms.Form):
    """`values` is what stands now; `said()` what is to be written."""

    name = forms.CharField(label=gettext_lazy("Name"), max_length=80)
    note = forms.CharField(
        label=gettext_lazy("What changes, and why"), required=False, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(
        self, *args: Any, shop: Any, values: dict[str, Any], fixed_name: str = "", **more: Any
    ) -> None:
        super().__init__(*args, **more)
        self.before = values
        own = [as_technique_field(row) for row in ShopField.objects.filter(retired_at__isnull=True)]
        self.parts = {part: fields_of_part(part, own) for part, _words in PARTS}
        for part, each in self.parts.items():
            for field in each:
                self.add(part, field)
        if fixed_name:
            del self.fields["name"]
        in_units_of(self, shop)

    def add(self, part: str, field: TechniqueField) -> None:
        self.fields[f"{part}.{field.key}"] = input_for(field)
        self.initial[f"{part}.{field.key}"] = self.before.get(part, {}).get(field.key)

    def groups(self) -> Iterator[tuple[Any, list[Any]]]:
        """For the page: the words of each part with its bound fields."""
        for part, words in PARTS:
            yield words, [self[f"{part}.{field.key}"] for field in self.parts[part]]

    def said(self) -> dict[str, Any]:
        """The method's values; exceptions by panel stay as they were."""
        found: dict[str, Any] = {}
        for part, each in self.parts.items():
            values = {field.key: self.value(part, field) for field in each}
            if values := {key: value for key, value in values.items() if value not in (None, "")}:
                found[part] = values
        if "panels" in self.before:
            found["panels"] = self.before["panels"]
        return found

    def value(self, part: str, field: TechniqueField) -> Any:
        name = f"{part}.{field.key}"
        value = self.cleaned_data.get(name)
        return value.stored if value is not None and isinstance(self.fields[name], QuantityField) else value


class ShopFieldForm(forms.Form):
    name = forms.CharField(label=gettext_lazy("Name"), max_length=80)
    level = forms.ChoiceField(label=gettext_lazy("Of what"), choices=ShopField.Level.choices)
    kind = forms.ChoiceField(label=gettext_lazy("Kind of answer"), choices=ShopField.Kind.choices)
    unit = forms.CharField(label=gettext_lazy("Unit of the number"), max_length=12, required=False)
    choices = forms.CharField(
        label=gettext_lazy("The list, one a line"), required=False, widget=forms.Textarea(attrs={"rows": 3})
    )

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        lines = [line.strip() for line in values.get("choices", "").splitlines() if line.strip()]
        if values.get("kind") == ShopField.Kind.CHOICE and len(set(lines)) < 2:
            self.add_error("choices", _("Write at least two different answers, one a line."))
        values["choices"] = list(dict.fromkeys(lines)) if values.get("kind") == ShopField.Kind.CHOICE else []
        return values
