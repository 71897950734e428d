"""What is said about a defect after it was seen."""

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from shopwarranty.films.models import Roll
from shopwarranty.jobs.actions import FilmChoice
from shopwarranty.trade import words
from shopwarranty.trade.defects import Measure
from shopwarranty.trade.panels import PlaceKind
from shopwarranty.trade.words import FilmFamily
from shopwarranty.web.fields import DayField
from shopwarranty.web.formats import ShopLike, is_us
from shopwarranty.web.trade_names import first_upper

from .actions import How
from .models import Defect

FILM_KINDS = frozenset({"replace_piece", "replace_panel", "patch"})


class CauseForm(forms.Form):
    cause = forms.ChoiceField(label=_("Cause"), required=False)
    sure = forms.ChoiceField(
        label=_("How sure"), choices=Defect.Sure.choices, required=False, widget=forms.RadioSelect
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["cause"]
        assert isinstance(field, forms.ChoiceField)
        known = [(cause.key, first_upper(_now(cause.words))) for cause in words.CAUSES]
        field.choices = [("", _now("Not judged")), *known]

    def clean(self) -> dict[str, Any]:
        values: dict[str, Any] = super().clean() or self.cleaned_data
        if values.get("cause") and not values.get("sure"):
            self.add_error("sure", _now("Say how sure that is."))
        return values


class RemedyForm(forms.Form):
    """What was done. Everything but the kind and the day may stay unsaid."""

    kind = forms.ChoiceField(label=_("What was done"))
    done_on = forms.DateField(label=_("On"), widget=forms.DateInput(attrs={"type": "date"}))
    minutes = forms.IntegerField(
        label=_("Minutes"),
        required=False,
        min_value=0,
        max_value=6000,
        widget=forms.NumberInput(attrs={"step": 5}),
    )
    heat = forms.DecimalField(label=_("Post-heat"), required=False, max_digits=6, decimal_places=1)
    passes = forms.IntegerField(
        label=_("Passes"),
        required=False,
        min_value=0,
        max_value=50,
        widget=forms.NumberInput(attrs={"step": 1}),
    )
    roll: Any = forms.ModelChoiceField(
        label=_("New film from roll"),
        queryset=None,
        required=False,
        empty_label=_("not recorded"),
        help_text=_("When the piece or the whole panel is laid anew."),
    )
    by_whom_else = forms.CharField(
        label=_("Done by another shop"),
        required=False,
        max_length=160,
        help_text=_("Which one, and who says so."),
    )
    cost = forms.DecimalField(label=_("Cost"), required=False, min_value=0, max_digits=10, decimal_places=2)
    film_mm = forms.DecimalField(
        label=_("Film off the roll"), required=False, min_value=0, max_digits=8, decimal_places=1
    )
    look_again_on = DayField(
        label=_("Look at it again on"), required=False, help_text=_("Empty: no check is planned for it.")
    )
    is_goodwill = forms.BooleanField(label=_("As goodwill, outside the warranty"), required=False)
    note = forms.CharField(label=_("Note"), required=False, widget=forms.Textarea(attrs={"rows": 3}))

    def __init__(self, *args: Any, shop: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.shop: ShopLike = shop
        kind, roll = self.fields["kind"], self.fields["roll"]
        assert isinstance(kind, forms.ChoiceField)
        assert isinstance(roll, forms.ModelChoiceField)
        kind.choices = [(one.key, first_upper(_now(one.words))) for one in words.REMEDIES]
        roll.queryset = Roll.objects.filter(finished_on__isnull=True).select_related("product", "lot")
        roll.label_from_instance = roll_words  # type: ignore[method-assign,assignment]
        self.fields["heat"].label = _now("Post-heat, °F") if is_us(self.shop) else _now("Post-heat, °C")
        self.fields["heat"].widget.attrs |= {"step": "1", "data-usual": "200" if is_us(self.shop) else "95"}
        self.fields["film_mm"].label = (
            _now("Film off the roll, inches") if is_us(self.shop) else _now("Film off the roll, mm")
        )
        self.fields["cost"].label = _now("Cost, %(currency)s") % {"currency": shop.currency}

    def celsius(self) -> float | None:
        typed: Decimal | None = self.cleaned_data["heat"]
        if typed is None:
            return None
        return float((typed - 32) * 5 / 9) if is_us(self.shop) else float(typed)

    def off_roll_mm(self) -> float | None:
        typed: Decimal | None = self.cleaned_data["film_mm"]
        if typed is None or not self.cleaned_data["roll"]:
            return None
        return float(typed) * 25.4 if is_us(self.shop) else float(typed)

    def how(self) -> How:
        said = self.cleaned_data
        film = FilmChoice(roll=said["roll"]) if said["kind"] in FILM_KINDS else FilmChoice()
        return How(
            minutes=said["minutes"],
            post_heat_c=self.celsius(),
            passes=said["passes"],
            film=film,
            by_whom_else=said["by_whom_else"],
            cost=said["cost"],
            is_goodwill=said["is_goodwill"],
            look_again_on=said["look_again_on"],
            off_roll_mm=self.off_roll_mm(),
            note=said["note"],
        )


def roll_words(roll: Any) -> str:
    lot = roll.lot.number if roll.lot else _now("lot unknown")
    held = _now(", lot quarantined") if roll.lot and roll.lot.quarantined_at else ""
    return f"{roll.label}, {roll.product}, {lot}{held}"


class KindForm(forms.Form):
    """A kind of defect the shop adds."""

    name = forms.CharField(label=_("Name"), max_length=80)
    graded_by = forms.ChoiceField(
        label=_("Measured by"),
        choices=[
            (Measure.LENGTH.value, _("length")),
            (Measure.AREA.value, _("area")),
            (Measure.COUNT.value, _("how many")),
            (Measure.PRESENT.value, _("there or not")),
        ],
        widget=forms.RadioSelect,
    )
    counts = forms.ChoiceField(
        label=_("What it says about the work"),
        choices=[("yes", _("a failure, from the shop's line on")), ("no", _("nothing, only noted"))],
        widget=forms.RadioSelect,
    )
    place_kinds = forms.MultipleChoiceField(
        label=_("Where it is found"),
        required=False,
        choices=[
            (PlaceKind.EDGE.value, _("edges")),
            (PlaceKind.RECESS.value, _("recesses")),
            (PlaceKind.SEAM.value, _("seams")),
            (PlaceKind.FIELD.value, _("surface")),
        ],
        widget=forms.CheckboxSelectMultiple,
        help_text=_("None chosen: everywhere."),
    )
    families = forms.MultipleChoiceField(
        label=_("On which films"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_("None chosen: on all."),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["families"]
        assert isinstance(field, forms.MultipleChoiceField)
        names = dict(words.pairs(words.FILM_FAMILIES))
        field.choices = [(family.value, _now(names[family])) for family in FilmFamily]
