"""Forms of the film room."""

from collections.abc import Iterable
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopwarranty.trade.words import FILM_FAMILIES, LAID, Choice
from shopwarranty.web.fields import MOST, DayField
from shopwarranty.web.quantities import degrees, in_units_of, long_length, short_length
from shopwarranty.web.seen import AsSeen

from .models import FilmProduct


def stored(typed: Any) -> float | None:
    return typed.stored if typed else None


class ShopUnitsForm(forms.Form):
    def __init__(self, *args: Any, shop: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        in_units_of(self, shop)


def said(choices: Iterable[Choice]) -> list[tuple[str, str]]:
    return [(each.key, _(each.words)) for each in choices]


class ProductForm(ShopUnitsForm):
    maker = forms.CharField(label=gettext_lazy("Maker"), max_length=80)
    name = forms.CharField(label=gettext_lazy("Film"), max_length=120)
    family = forms.ChoiceField(
        label=gettext_lazy("Family"),
        choices=lambda: said(FILM_FAMILIES),
        help_text=gettext_lazy("Families are never counted together in one rate."),
    )
    finish = forms.CharField(label=gettext_lazy("Finish or colour"), max_length=40, required=False)
    laid = forms.ChoiceField(
        label=gettext_lazy("Usually laid"),
        required=False,
        choices=lambda: [("", _("Not recorded")), *said(LAID)],
    )
    apply_min_c = degrees(label=gettext_lazy("Lay from"), required=False)
    apply_max_c = degrees(label=gettext_lazy("Lay up to"), required=False)
    post_heat_min_c = degrees(label=gettext_lazy("Post-heat from"), required=False)
    post_heat_max_c = degrees(label=gettext_lazy("Post-heat up to"), required=False)
    humidity_max = forms.FloatField(
        label=gettext_lazy("Humidity up to, %"), min_value=0, max_value=100, required=False
    )
    shelf_life_months = forms.IntegerField(
        label=gettext_lazy("Shelf life, months"), min_value=1, max_value=600, required=False
    )
    wash_after_hours = forms.IntegerField(
        label=gettext_lazy("No washing for, hours"), min_value=0, max_value=MOST, required=False
    )
    sold_from = DayField(label=gettext_lazy("Sold from"), required=False)
    sold_to = DayField(
        label=gettext_lazy("Sold until"),
        required=False,
        help_text=gettext_lazy("Days of the maker's lists. A panel done outside of them says so."),
    )
    maker_address = forms.CharField(
        label=gettext_lazy("Maker's postal address"),
        max_length=240,
        required=False,
        help_text=gettext_lazy("Printed on certificates where the maker itself promises something."),
    )
    note = forms.CharField(
        label=gettext_lazy("Note"), required=False, widget=forms.Textarea(attrs={"rows": 2})
    )

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        for low, high in (("apply_min_c", "apply_max_c"), ("post_heat_min_c", "post_heat_max_c")):
            if values.get(low) and values.get(high) and values[low].stored > values[high].stored:
                self.add_error(high, _("This is below the lower limit."))
        first, last = values.get("sold_from"), values.get("sold_to")
        if first and last and last < first:
            self.add_error("sold_to", _("This is before the first day."))
        return values

    def values(self) -> dict[str, Any]:
        typed = ("apply_min_c", "apply_max_c", "post_heat_min_c", "post_heat_max_c")
        return {name: stored(value) if name in typed else value for name, value in self.cleaned_data.items()}


class ChangeProductForm(AsSeen, ProductForm):
    """A film that is in the list already."""


class RollForm(ShopUnitsForm):
    label = forms.CharField(
        label=gettext_lazy("Label on the roll"),
        max_length=40,
        help_text=gettext_lazy("What you write on it, unique in the shop."),
    )
    lot_number = forms.CharField(label=gettext_lazy("Lot"), max_length=60, required=False)
    lot_unknown_reason = forms.CharField(
        label=gettext_lazy("Lot unknown, because"),
        max_length=160,
        required=False,
        help_text=gettext_lazy("Only when nobody can read the lot."),
    )
    width_mm = short_length(label=gettext_lazy("Width"), required=False)
    length_mm = long_length(label=gettext_lazy("Length"), required=False)
    received_on = forms.DateField(
        label=gettext_lazy("Received"), required=False, widget=forms.DateInput(attrs={"type": "date"})
    )
    stored_where = forms.CharField(label=gettext_lazy("Kept where"), max_length=80, required=False)

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        self.fields["product"] = forms.ModelChoiceField(
            label=_("Film"), queryset=FilmProduct.objects.all(), empty_label=_("Choose")
        )
        self.order_fields(["product", "label", "lot_number", "lot_unknown_reason"])

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        lot, why = values.get("lot_number", "").strip(), values.get("lot_unknown_reason", "").strip()
        if not lot and not why:
            self.add_error(
                "lot_number", _("Type the lot from the roll's label, or say below why it is unknown.")
            )
        if lot and why:
            self.add_error("lot_unknown_reason", _("The lot is given above; leave this empty."))
        return values

    def values(self) -> dict[str, Any]:
        lengths = ("width_mm", "length_mm")
        return {
            name: stored(value) if name in lengths else value for name, value in self.cleaned_data.items()
        }


class MeasureForm(ShopUnitsForm):
    left_mm = long_length(label=gettext_lazy("Measured to be left"))
    why = forms.CharField(label=gettext_lazy("Why"), max_length=160)


class CutPlanForm(ShopUnitsForm):
    """Size of the panel and the allowance on each side."""

    along_mm = short_length(label=gettext_lazy("Panel, one side"))
    across_mm = short_length(label=gettext_lazy("Panel, other side"))
    allowance_along_mm = short_length(label=gettext_lazy("Allowance on each end of that side"))
    allowance_across_mm = short_length(label=gettext_lazy("Allowance on each end of the other"))


class TakeCutForm(forms.Form):
    long_side_across = forms.BooleanField(required=False)
    kind = forms.ChoiceField(
        label=gettext_lazy("Cut for"),
        choices=[
            ("piece", gettext_lazy("a panel")),
            ("recut", gettext_lazy("a panel, cut again")),
            ("waste", gettext_lazy("waste")),
            ("offcut", gettext_lazy("stock: keep it as an off-cut")),
        ],
    )
    note = forms.CharField(label=gettext_lazy("Note"), max_length=160, required=False)
    reason = forms.CharField(label=gettext_lazy("Reason"), max_length=160, required=False)


class ReasonForm(forms.Form):
    reason = forms.CharField(label=gettext_lazy("Why"), widget=forms.Textarea(attrs={"rows": 2}))
