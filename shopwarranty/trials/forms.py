"""What is typed about trials: three questions, and few words later."""

from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from shopwarranty.jobs.forms.technique import degree_unit, length_unit
from shopwarranty.jobs.models import Method
from shopwarranty.jobs.technique_rows import as_text
from shopwarranty.trade import units
from shopwarranty.trade.catalogue import bodies, kind_of, panels, pooled_panel_name
from shopwarranty.trade.defects import KINDS
from shopwarranty.trade.technique import FieldKind, Level, TechniqueField, Unit, ValueRefused, accept
from shopwarranty.trade.units import NotAMeasure
from shopwarranty.web.formats import is_us
from shopwarranty.web.trade_names import first_upper, is_american

from .actions import Question
from .models import TrialUnit
from .technique import LEVELS, UNITS_OF, fields_to_try

RATIOS = (("1.5", _("half as many again")), ("2", _("twice as many")), ("3", _("three times as many")))
PLACE_KINDS = (("edge", _("edges")), ("recess", _("recesses")), ("seam", _("seams")), ("field", _("surface")))
CHECKS = (14, 42, 90, 180, 365)
LONGEST = 3 * 365


class QuestionForm(forms.Form):
    words = forms.CharField(
        label=_("What do you want to know"),
        max_length=200,
        help_text=_("In your own words: does a mirror recess hold without post-heat."),
    )
    field = forms.ChoiceField(label=_("What differs"))
    usual_value = forms.CharField(
        label=_("As usual"),
        max_length=80,
    )
    other_value = forms.CharField(label=_("The other way"), max_length=80)
    less_careful = forms.BooleanField(
        label=_("The other way is less careful than our method"), required=False
    )
    unit = forms.ChoiceField(
        label=_("What is compared"),
        help_text=_("What concerns a panel as a whole: sides or jobs. What concerns the whole job: jobs."),
        choices=TrialUnit.choices,
        widget=forms.RadioSelect,
        initial=TrialUnit.SIDES,
    )
    place_kinds = forms.MultipleChoiceField(
        label=_("Which places"), choices=PLACE_KINDS, widget=forms.CheckboxSelectMultiple, initial=["edge"]
    )
    panels = forms.MultipleChoiceField(
        label=_("Only on these panels"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_("None chosen: every panel."),
    )
    defect_kinds = forms.MultipleChoiceField(
        label=_("What counts"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_("None chosen: everything your shop counts as a failure."),
    )
    by_day = forms.IntegerField(
        label=_("By which day after laying"), min_value=7, max_value=LONGEST, initial=90
    )
    ratio = forms.ChoiceField(
        label=_("A difference that matters"), choices=RATIOS, widget=forms.RadioSelect, initial="2"
    )

    def __init__(self, *args: Any, shop: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        american = is_american(shop)
        self.shop, self.technique = shop, fields_to_try()
        self._choose("field", self._grouped())
        self.fields["usual_value"].help_text = (
            _("Yes, no, a word of the method, or a number (°F, inches).")
            if is_us(shop)
            else _("Yes, no, a word of the method, or a number (°C, mm).")
        )
        self._choose("panels", list(panel_kinds(american).items()))
        self._choose("defect_kinds", list(defect_kinds(american).items()))

    def _grouped(self) -> list[tuple[Any, list[tuple[str, str]]]]:
        return [
            (
                first_upper(str(words)),
                [
                    (key, first_upper(str(_(f.words))))
                    for key, f in self.technique.items()
                    if f.level is level
                ],
            )
            for level, words in LEVELS
        ]

    def _choose(self, name: str, choices: Any) -> None:
        self.fields[name].choices = choices  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        field = self.technique.get(values.get("field", ""))
        if field is not None:
            for name in ("usual_value", "other_value"):
                if name in values:
                    self._read(name, field, values)
            self._fits(field, values)
        if values.get("usual_value") and values.get("usual_value") == values.get("other_value"):
            self.add_error("other_value", _("Both ways are the same, so there is nothing to learn."))
        return values

    def _read(self, name: str, field: TechniqueField, values: dict[str, Any]) -> None:
        try:
            values[name] = as_text(accept(field, meant(field, values[name].strip(), self.shop)))
        except (ValueRefused, NotAMeasure):
            self.add_error(name, wanted(field, self.shop))

    def _fits(self, field: TechniqueField, values: dict[str, Any]) -> None:
        """What differs has to exist at the places, and to be done apart for what is compared."""
        unit = values.get("unit")
        if unit and unit not in UNITS_OF[field.level]:
            words = (
                _("A whole job is done one way: compare jobs.")
                if field.level is Level.JOB
                else _("A panel is done one way: compare sides or jobs.")
            )
            self.add_error("unit", words)
        outside = set(values.get("place_kinds", ())) - {str(kind) for kind in field.places}
        if field.level is Level.PLACE and outside:
            there = {str(kind) for kind in field.places}
            kinds = [str(words) for key, words in PLACE_KINDS if key in there]
            self.add_error("place_kinds", _("This is only done at: %(kinds)s.") % {"kinds": ", ".join(kinds)})

    def question(self) -> Question:
        said = self.cleaned_data
        by_day = said["by_day"]
        return Question(
            words=said["words"],
            field=said["field"],
            usual_value=said["usual_value"],
            other_value=said["other_value"],
            less_careful=said["less_careful"],
            unit=said["unit"],
            place_kinds=tuple(said["place_kinds"]),
            panels=tuple(said["panels"]),
            defect_kinds=tuple(said["defect_kinds"]),
            by_day=by_day,
            ratio=float(said["ratio"]),
            check_days=(*(day for day in CHECKS if day < by_day - 7), by_day),
        )


def panel_kinds(american: bool) -> dict[str, str]:
    """Names without their side, by kind."""
    kinds = {kind_of(panel.key): panel.key for body in bodies() for panel in panels(body.key)}
    return {kind: panel_kind_words(key, american) for kind, key in kinds.items()}


def defect_kinds(american: bool) -> dict[str, str]:
    return {k.key: first_upper(str(_(k.name_us if american else k.name))) for k in KINDS}


def panel_kind_words(key: str, american: bool) -> str:
    """The panel's name without its side."""
    name = pooled_panel_name(key, american=american)
    return first_upper(str(_(name.removeprefix("left ").removeprefix("right "))))


def meant(field: TechniqueField, typed: str, shop: Any) -> object:
    """A value in SI from words or a number in the shop's units. Raises NotAMeasure."""
    if field.kind is FieldKind.YES_NO:
        return {"yes": True, "no": False, str(_("yes")): True, str(_("no")): False}.get(typed.lower(), typed)
    if field.kind is FieldKind.CHOICE:
        named = {name.lower(): c.key for c in field.choices for name in (c.words, str(_(c.words)))}
        return named.get(typed.lower(), typed)
    if field.unit is Unit.CELSIUS:
        return round(units.temperature(typed, degree_unit(shop)).stored, 2)
    if field.unit is Unit.MM:
        return round(units.span(typed, length_unit(shop)).stored, 2)
    try:
        return float(typed.replace(",", "."))
    except ValueError:
        return typed


def wanted(field: TechniqueField, shop: Any) -> str:
    """What may be typed, said when something else was."""
    if field.kind is FieldKind.YES_NO:
        return gettext("Type yes or no.")
    if field.kind is FieldKind.CHOICE:
        return gettext("Type one of: %(words)s.") % {
            "words": ", ".join(str(gettext(c.words)) for c in field.choices)
        }
    if field.unit is Unit.CELSIUS:
        return (
            gettext("Type a temperature, such as 190 °F.")
            if is_us(shop)
            else gettext("Type a temperature, such as 90 °C.")
        )
    if field.unit is Unit.MM:
        return (
            gettext("Type a length, such as 0.3 in.")
            if is_us(shop)
            else gettext("Type a length, such as 8 mm.")
        )
    return gettext("Type a whole number.") if field.whole else gettext("Type a number of at least 0.")


class WhyForm(forms.Form):
    why = forms.CharField(label=_("Why"), max_length=160)


class ConsentForm(forms.Form):
    words = forms.CharField(
        label=_("What the holder agreed to, in the words used"),
        widget=forms.Textarea(attrs={"rows": 4}),
        max_length=2000,
    )
    agreed = forms.BooleanField(
        label=_("The holder was told which way is less careful, agreed, and keeps the full cover")
    )


class AdoptForm(forms.Form):
    method = forms.ModelChoiceField(Method.objects.none(), label=_("Which method"))

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        self.fields["method"].queryset = Method.objects.filter(retired_at__isnull=True)  # type: ignore[attr-defined]


class FileForm(forms.Form):
    file = forms.FileField(label=_("A trial's file of another shop"))
