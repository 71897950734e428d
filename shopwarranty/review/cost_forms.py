"""What an owner says a lift and a check cost the shop."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopwarranty.shops.models import Shop
from shopwarranty.web.seen import AsSeen

from .models import CheckCosts
from .timing_lines import USUALLY_SMALL

COSTS = ("caught_early", "caught_late", "minute")


def _sum(label: Any, digits: int, help_text: Any) -> forms.DecimalField:
    return forms.DecimalField(
        label=label, help_text=help_text, min_value=Decimal(0), max_digits=digits, decimal_places=2
    )


class CostsForm(AsSeen, forms.Form):
    caught_early = _sum(
        gettext_lazy("A lift put right while it is small"),
        9,
        gettext_lazy("Work and film, on average: pressed down again, post-heated."),
    )
    caught_late = _sum(
        gettext_lazy("A lift that has grown"),
        9,
        gettext_lazy("Work, film and whatever else it costs you, on average: often the panel again."),
    )
    minute = _sum(
        gettext_lazy("A minute of work"), 7, gettext_lazy("How long a check takes stands in the check plan.")
    )
    grows_after = forms.IntegerField(
        label=gettext_lazy("Days a lift stays small"),
        min_value=1,
        max_value=365,
        help_text=gettext_lazy("Your judgement: no record of checks shows it."),
        widget=forms.NumberInput(attrs={"step": 1}),
    )

    def __init__(self, typed: Any = None, *, shop: Shop, costs: CheckCosts | None) -> None:
        stands = {name: getattr(costs, name) for name in (*COSTS, "grows_after")} if costs else {}
        super().__init__(typed, initial={"grows_after": USUALLY_SMALL, **stands})
        for name in COSTS:
            words = {"what": self.fields[name].label, "currency": shop.currency}
            self.fields[name].label = _("%(what)s, %(currency)s") % words

    def clean(self) -> dict[str, Any]:
        values: dict[str, Any] = super().clean() or self.cleaned_data
        early, late = values.get("caught_early"), values.get("caught_late")
        if early is not None and late is not None and late < early:
            self.add_error("caught_late", _("A lift that has grown cannot cost less than a small one."))
        return values
