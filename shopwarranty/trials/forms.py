"""What is typed about trials: three questions, and few words later."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from shopwarranty.jobs.models import Method
from shopwarranty.jobs.technique_rows import as_text
from shopwarranty.trade.catalogue import bodies, kind_of, panels, pooled_panel_name
from shopwarranty.trade.defects import KINDS
from shopwarranty.trade.technique import FieldKind, Level, TechniqueField, ValueRefused, accept, fields
from shopwarranty.web.trade_names import first_upper, is_american

from .actions import Question
from .models import TrialUnit

RATIOS = (("1.5", _("half as many again")), ("2", _("twice as many")), ("3", _("three times as many")))
UNITS = (
    (TrialUnit.SIDES.value, _("left and right of one vehicle")),
    (TrialUnit.PLACES.value, _("alternate places of one panel")),
)
PLACE_KINDS = (("edge", _("edges")), ("recess", _("recesses")), ("seam", _("seams")), ("field", _("surface")))
CHECKS = (14, 42, 90, 180, 365)
LONGEST = 3 * 365
BY_KEY = {field.key: field for field in fields(Level.PLACE)}


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
        help_text=_("yes, no, a word of the method, or a number (°C, mm)."),
    )
    other_value = forms.CharField(label=_("The other way"), max_length=80)
    less_careful = forms.BooleanField(
        label=_("The other way is less careful than our method"), required=False
    )
    unit = forms.ChoiceField(
        label=_("What is compared"),
        choices=[
            (TrialUnit.SIDES, _("left and right of one vehicle")),
            (TrialUnit.PLACES, _("alternate places of one panel")),
        ],
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
        help_text=_("None chosen: every panel that has both."),
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
        self._choose("field", [(f.key, first_upper(str(_(f.words)))) for f in BY_KEY.values()])
        kinds = {kind_of(panel.key): panel.key for body in bodies() for panel in panels(body.key)}
        self._choose("panels", [(k, panel_kind_words(key, american)) for k, key in kinds.items()])
        named = [(k.key, first_upper(str(_(k.name_us if american else k.name)))) for k in KINDS]
        self._choose("defect_kinds", named)

    def _choose(self, name: str, choices: list[tuple[str, str]]) -> None:
        self.fields[name].choices = choices  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        field = BY_KEY.get(values.get("field", ""))
        for name in ("usual_value", "other_value"):
            if field is None or name not in values:
                continue
            try:
                values[name] = as_text(accept(field, _meant(field, values[name].strip())))
            except ValueRefused as refused:
                self.add_error(name, str(_(refused.reason)))
        if values.get("usual_value") and values.get("usual_value") == values.get("other_value"):
            self.add_error("other_value", _("Both ways are the same, so there is nothing to learn."))
        return values

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


def panel_kind_words(key: str, american: bool) -> str:
    """The panel's name without its side."""
    name = pooled_panel_name(key, american=american)
    return first_upper(str(_(name.removeprefix("left ").removeprefix("right "))))


def _meant(field: TechniqueField, typed: str) -> object:
    if field.kind is FieldKind.YES_NO:
        return {"yes": True, "no": False, str(_("yes")): True, str(_("no")): False}.get(typed.lower(), typed)
    if field.kind is FieldKind.CHOICE:
        keys = {choice.words.lower(): choice.key for choice in field.choices}
        return keys.get(typed.lower(), typed)
    try:
        return float(typed.replace(",", "."))
    except ValueError:
        return typed


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
