"""One form for the technique fields of a job, a panel or a place: only what was changed is handed on."""

from collections.abc import Iterable, Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext as _

from shopwarranty.shops.rows import Basis
from shopwarranty.trade import units
from shopwarranty.trade.readings import Doubt, Quantity, doubts
from shopwarranty.trade.technique import FieldKind, TechniqueField, Unit, Value
from shopwarranty.web.fields import MOST, YesNoNotRecorded
from shopwarranty.web.formats import is_us
from shopwarranty.web.quantities import shown
from shopwarranty.web.seen import AsSeen
from shopwarranty.web.trade_names import first_upper

from ..models import ShopField
from ..record_parts import OwnValue
from ..technique_rows import NOT_RECORDED, REACHED, Recorded, Said
from ..usual import compared_with
from ..words import value_words

STEP = {units.Unit.INCH: "0.05", units.Unit.MM: "1", units.Unit.FAHRENHEIT: "5", units.Unit.CELSIUS: "1"}
OWN = "own__"
MEANT = "meant__"
LEADING = ("post_heated", "passes", REACHED)


class TechniqueForm(forms.Form):
    """`said()` gives the fields that were changed, as `actions` take them."""

    def __init__(
        self,
        *args: Any,
        shop: Any,
        fields: Iterable[TechniqueField],
        values: Mapping[str, Recorded],
        usual: Mapping[str, Value],
        own_fields: Iterable[ShopField] = (),
        own: Iterable[OwnValue] = (),
        **more: Any,
    ) -> None:
        super().__init__(*args, **more)
        self.shop, self.values, self.usual = shop, values, usual
        self.technique = {field.key: field for field in fields}
        for field in self.technique.values():
            self.add(field)
        self.own_fields = {field.key: field for field in own_fields}
        self.own_now = {value.key: value.value for value in own}
        for own_field in self.own_fields.values():
            self.fields[OWN + own_field.key] = own_form_field(own_field)
            self.initial[OWN + own_field.key] = own_initial(own_field, self.own_now.get(own_field.key, ""))
        self.ask_units()

    def add(self, field: TechniqueField) -> None:
        usual = compared_with(self.usual, field.key)
        made = form_field(field, usual, self.shop)
        self.fields[field.key] = made
        self.initial[field.key] = shown_value(field, self.recorded(field.key).value, self.shop)

    def recorded(self, key: str) -> Recorded:
        return self.values.get(key, NOT_RECORDED)

    def ask_units(self) -> None:
        """Where a posted temperature reads like the other unit, the form asks which is meant."""
        if not self.is_bound:
            return
        for field in self.technique.values():
            if field.unit is Unit.CELSIUS and (doubt := self.doubt_of(field)):
                self.fields[MEANT + field.key] = meant_field(field, self.typed(field), doubt, self.shop)

    def typed(self, field: TechniqueField) -> units.Typed | None:
        text = str(self.data.get(self.add_prefix(field.key), "")).strip()
        try:
            return units.temperature(text, degree_unit(self.shop)) if text else None
        except units.NotAMeasure:
            return None

    def doubt_of(self, field: TechniqueField) -> Doubt | None:
        typed = self.typed(field)
        if typed is None or f"{typed.number:g}" == f"{self.initial.get(field.key) or 0:g}":
            return None
        return next(iter(doubts(Quantity.HEAT, typed)), None)

    @property
    def leading(self) -> list[forms.BoundField]:
        """What differs most often; these come first, open."""
        return [self[key] for key in LEADING if key in self.fields]

    @property
    def questions(self) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name.startswith(MEANT)]

    @property
    def rest(self) -> list[forms.BoundField]:
        """Everything else, folded away until somebody needs it."""
        return [self[name] for name in self.fields if name not in LEADING and not name.startswith(MEANT)]

    @property
    def rest_is_open(self) -> bool:
        """Unfolded when something in it was said or is wrong."""
        said = (
            key for key in self.technique if key not in LEADING and self.recorded(key).basis == Basis.STATED
        )
        return bool(any(said) or any(field.errors for field in self.rest) or self.questions)

    def said(self) -> dict[str, Said]:
        """Changed technique fields in SI; call after `is_valid()`."""
        changed = (field for field in self.technique.values() if field.key in self.changed_data)
        return {field.key: self.said_of(field) for field in changed}

    def said_of(self, field: TechniqueField) -> Said:
        value: Any = self.cleaned_data.get(field.key)
        if value in (None, ""):
            return Said(None)
        if field.kind is not FieldKind.NUMBER:
            return Said(value)
        if field.unit is Unit.CELSIUS:
            return self.said_degrees(field, float(value))
        if field.unit is Unit.MM:
            return self.said_length(field, float(value))
        return Said(int(value) if field.whole else float(value))

    def said_degrees(self, field: TechniqueField, value: float) -> Said:
        unit = units.Unit(self.cleaned_data.get(MEANT + field.key) or degree_unit(self.shop))
        return Said(units.celsius(value, unit), Basis.MEASURED, f"{value:g} {unit}")

    def said_length(self, field: TechniqueField, value: float) -> Said:
        """The usual as shown is the usual as meant, though inches round it."""
        unit = length_unit(self.shop)
        usual = compared_with(self.usual, field.key)
        typed = f"{value:g} {unit}" if field.key == REACHED else ""
        if isinstance(usual, int | float) and shown(float(usual), unit) == value:
            return Said(float(usual), Basis.STATED, typed)
        return Said(units.millimetres(value, unit), Basis.STATED, typed)

    def own_said(self) -> dict[str, Said]:
        """Changed fields of the shop's own, by key."""
        return {
            key: Said(own_value(field, self.cleaned_data.get(OWN + key)))
            for key, field in self.own_fields.items()
            if OWN + key in self.changed_data
        }


class PlaceForm(AsSeen, TechniqueForm):
    """Of one place, which two people may have open, one of them without a network."""

    @property
    def rest(self) -> list[forms.BoundField]:
        return [field for field in super().rest if field.name != "seen"]


def degree_unit(shop: Any) -> units.Unit:
    return units.Unit.FAHRENHEIT if is_us(shop) else units.Unit.CELSIUS


def length_unit(shop: Any) -> units.Unit:
    return units.Unit.INCH if is_us(shop) else units.Unit.MM


def form_field(field: TechniqueField, usual: Value, shop: Any) -> forms.Field:
    label = first_upper(_(field.words))
    known = usual is not None
    hint = _("usual %(value)s") % {"value": value_words(field, usual, shop)} if known else ""
    if field.kind is FieldKind.YES_NO:
        return YesNoNotRecorded(label=label, help_text=hint)
    if field.kind is FieldKind.CHOICE:
        choices = [(choice.key, first_upper(_(choice.words))) for choice in field.choices]
        return forms.ChoiceField(
            label=label,
            required=False,
            help_text=hint,
            choices=[*choices, ("", _("Not recorded"))],
            widget=forms.RadioSelect,
        )
    return number_field(field, label, hint, shown_value(field, usual, shop), shop)


def number_field(field: TechniqueField, label: str, hint: str, usual: Value, shop: Any) -> forms.Field:
    attrs: dict[str, Any] = {"min": "0"}
    if usual is not None:
        attrs["data-usual"] = f"{usual:g}"
    if field.whole:
        return forms.IntegerField(
            label=label,
            required=False,
            min_value=0,
            max_value=MOST,
            help_text=hint,
            widget=forms.NumberInput(attrs),
        )
    unit = {Unit.CELSIUS: degree_unit(shop), Unit.MM: length_unit(shop)}.get(field.unit or Unit.COUNT)
    attrs["step"] = STEP.get(unit, "1") if unit else "1"
    words = f"°{unit}" if field.unit is Unit.CELSIUS else str(unit or field.unit)
    return forms.FloatField(
        label=f"{label}, {words}",
        required=False,
        min_value=0,
        help_text=hint,
        widget=forms.NumberInput(attrs),
    )


def shown_value(field: TechniqueField, value: Value, shop: Any) -> Value:
    """A stored value as its form field shows it."""
    if value is None or not isinstance(value, int | float) or isinstance(value, bool):
        return value
    if field.unit is Unit.CELSIUS:
        return shown(float(value), degree_unit(shop))
    return shown(float(value), length_unit(shop)) if field.unit is Unit.MM else value


def meant_field(field: TechniqueField, typed: units.Typed | None, doubt: Doubt, shop: Any) -> forms.Field:
    """A question beside a doubtful temperature: which unit was meant, or that it was read like this."""
    assert typed is not None
    here = degree_unit(shop)
    choices = [(str(here), f"{typed.number:g} °{here}")]
    if doubt.meant:
        choices.append((str(doubt.meant), f"{typed.number:g} °{doubt.meant}"))
    return forms.ChoiceField(
        label=f"{first_upper(_(field.words))}: {_(doubt.words)}",
        choices=choices,
        widget=forms.RadioSelect,
        error_messages={"required": _("Say which is meant, then save again.")},
    )


def own_form_field(field: ShopField) -> forms.Field:
    if field.kind == ShopField.Kind.YES_NO:
        return YesNoNotRecorded(label=field.name)
    if field.kind == ShopField.Kind.CHOICE:
        choices = [(str(word), str(word)) for word in field.choices]
        return forms.ChoiceField(
            label=field.name,
            required=False,
            choices=[*choices, ("", _("Not recorded"))],
            widget=forms.RadioSelect,
        )
    label = f"{field.name}, {field.unit}" if field.unit else field.name
    return forms.FloatField(label=label, required=False, widget=forms.NumberInput({"step": "any"}))


def own_initial(field: ShopField, value: str) -> Value:
    if value == "":
        return None
    if field.kind == ShopField.Kind.YES_NO:
        return value == "yes"
    return float(value) if field.kind == ShopField.Kind.NUMBER else value


def own_value(field: ShopField, cleaned: Any) -> Value:
    return None if cleaned in (None, "") else cleaned
