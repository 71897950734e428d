"""What is typed about a claim to a film maker."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from shopwarranty.defects.models import Defect
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.shops.models import Shop
from shopwarranty.web.fields import DayField

from ..models import MakerClaim
from ..places import place_words
from .actions import Answer, Claimed
from .stages import ANSWERS


def amount(label: Any, help_text: Any = "") -> forms.DecimalField:
    return forms.DecimalField(
        label=label, required=False, min_value=0, max_digits=10, decimal_places=2, help_text=help_text
    )


def in_currency(field: forms.Field, shop: Shop) -> None:
    words = {"what": field.label, "currency": shop.currency}
    field.label = _now("%(what)s, %(currency)s") % words


class ClaimedForm(forms.Form):
    defects = forms.MultipleChoiceField(
        label=_("Defects on this film"), required=False, widget=forms.CheckboxSelectMultiple
    )
    words = forms.CharField(
        label=_("What is wrong with the film"),
        required=False,
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 4}),
    )
    asked = amount(_("Asked for"), _("Film and work together. Empty: the maker says how much."))
    with_vin = forms.BooleanField(
        label=_("Name the VINs"),
        required=False,
        help_text=_("Only where the maker's terms ask for them. Holder and plate are never named."),
    )

    def __init__(
        self, *args: Any, known: Iterable[Defect], shop: Shop, catalogue: ShopCatalogue, **more: Any
    ) -> None:
        super().__init__(*args, **more)
        self.known = {str(row.pk): row for row in known}
        field = self.fields["defects"]
        assert isinstance(field, forms.MultipleChoiceField)
        field.choices = [
            (
                key,
                _now("%(number)s, %(kind)s: %(where)s, %(vehicle)s")
                % {
                    "number": row.number,
                    "kind": row.kind_said,
                    "where": place_words(row.place, catalogue),
                    "vehicle": row.place.piece.panel_work.job.vehicle,
                },
            )
            for key, row in self.known.items()
        ]
        if not self.known:
            del self.fields["defects"]
        in_currency(self.fields["asked"], shop)

    def claimed(self) -> Claimed:
        said = self.cleaned_data
        defects = [self.known[key] for key in said.get("defects", ())]
        return Claimed(defects, said["words"], said["asked"], said["with_vin"])


class SendForm(forms.Form):
    mail = forms.EmailField(
        label=_("Mail it to"), required=False, help_text=_("The PDF goes along. Empty: you send it yourself.")
    )
    how = forms.CharField(
        label=_("Or how you send it"),
        required=False,
        max_length=200,
        help_text=_("By post, on the maker's own page, handed to the supplier."),
    )
    answer_due_on = DayField(
        label=_("Answer expected by"), required=False, help_text=_("From the maker's terms, where they say.")
    )

    def __init__(self, *args: Any, today: date, **more: Any) -> None:
        super().__init__(*args, **more)
        self.today = today

    def clean_answer_due_on(self) -> date | None:
        day: date | None = self.cleaned_data["answer_due_on"]
        if day is not None and day < self.today:
            raise forms.ValidationError(_now("This day has passed."))
        return day


class AnswerForm(forms.Form):
    state = forms.ChoiceField(label=_("What the maker did"), widget=forms.RadioSelect)
    on = DayField(label=_("On"))
    credited = amount(_("Credited"))
    reference = forms.CharField(label=_("The maker's reference"), required=False, max_length=60)
    words = forms.CharField(
        label=_("What was answered"),
        required=False,
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    def __init__(self, *args: Any, claim: MakerClaim, today: date, shop: Shop, **more: Any) -> None:
        super().__init__(*args, **more)
        self.claim, self.today = claim, today
        field = self.fields["state"]
        assert isinstance(field, forms.ChoiceField)
        labels = dict(MakerClaim.State.choices)
        left = [state for state in ANSWERS if state != claim.state]
        field.choices = [(state.value, labels[state]) for state in left]
        in_currency(self.fields["credited"], shop)

    def clean_on(self) -> date:
        day: date = self.cleaned_data["on"]
        if day > self.today:
            raise forms.ValidationError(_now("This day is still to come."))
        if self.claim.sent_on and day < self.claim.sent_on:
            raise forms.ValidationError(_now("This day lies before the claim was sent."))
        return day

    def answer(self) -> Answer:
        said = self.cleaned_data
        return Answer(said["state"], said["on"], said["words"], said["reference"], said["credited"])


class DropForm(forms.Form):
    why = forms.CharField(label=_("Why"), max_length=400, widget=forms.Textarea(attrs={"rows": 2}))
