"""Panels and places a shop adds to the catalogue."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, pgettext_lazy

from shopwarranty.trade import catalogue
from shopwarranty.trade.shelf import SPOTS
from shopwarranty.web.trade_names import first_upper, is_american

from .vehicles import body_choices


def any_body(shop: Any) -> list[tuple[str, str]]:
    return [("", _("every body style")), *body_choices(shop)]


class ShopPanelForm(forms.Form):
    name = forms.CharField(label=gettext_lazy("Panel"), max_length=80)
    edges = forms.CharField(
        label=gettext_lazy("Its edges"),
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text=gettext_lazy("One a line, in the order they are looked at. The surface comes by itself."),
    )
    body_style = forms.ChoiceField(label=pgettext_lazy("body style", "On"), required=False)

    def __init__(self, *args: Any, shop: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        self.fields["body_style"].choices = any_body(shop)  # type: ignore[attr-defined]

    def clean_edges(self) -> list[str]:
        lines = [line.strip()[:80] for line in self.cleaned_data["edges"].splitlines() if line.strip()]
        if len(lines) != len({line.lower() for line in lines}):
            raise forms.ValidationError(_("Two edges carry the same name."))
        return lines


class ShopPlaceForm(forms.Form):
    panel = forms.ChoiceField(label=gettext_lazy("On panel"))
    name = forms.CharField(label=gettext_lazy("Place"), max_length=80)
    kind = forms.ChoiceField(
        label=gettext_lazy("It is"),
        widget=forms.RadioSelect,
        choices=[("edge", gettext_lazy("an edge")), ("recess", gettext_lazy("a recess"))],
        initial="edge",
    )
    spot = forms.TypedChoiceField(
        label=gettext_lazy("Where on the panel, as you stand before it"),
        coerce=int,
        initial=5,
        choices=[(n, gettext_lazy(words)) for n, words in enumerate(SPOTS, start=1)],
    )
    body_style = forms.ChoiceField(label=pgettext_lazy("body style", "On"), required=False)

    def __init__(self, *args: Any, shop: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        american = is_american(shop)
        keys = dict.fromkeys(key for body in catalogue.bodies() for key in catalogue.panel_keys(body.key))
        named = [(key, first_upper(_(catalogue.pooled_panel_name(key, american=american)))) for key in keys]
        self.fields["body_style"].choices = any_body(shop)  # type: ignore[attr-defined]
        self.fields["panel"].choices = named  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        body, panel = values.get("body_style"), values.get("panel", "")
        if body and not catalogue.has_panel(body, panel):
            self.add_error("body_style", _("This body style has no such panel."))
        return values
