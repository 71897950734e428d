"""What is typed about certificates."""

from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from shopwarranty.films.models import FilmProduct
from shopwarranty.jobs.forms.vehicles import KnownParty, PartyFields
from shopwarranty.web.fields import DayField

from .maker_terms import MOST_BYTES
from .models import Certificate


class WhyForm(forms.Form):
    why = forms.CharField(
        label=_("What was wrong, or what is new"), widget=forms.Textarea(attrs={"rows": 2}), max_length=500
    )
    wrong_holder = forms.BooleanField(
        label=_("The person named on it never was the holder"),
        required=False,
        help_text=_("Only for a mistake. A sale is recorded at the vehicle and goes by the terms."),
    )


class SaleForm(PartyFields, KnownParty):
    """Who has the vehicle now, and since when."""

    on = DayField(label=_("Sold on"))
    odometer = forms.CharField(label=_("Odometer, with its unit"), required=False, max_length=24)
    agreed = forms.BooleanField(
        label=_("The new holder gave us name and address, or agreed that we keep them"),
        required=False,
    )
    why = forms.CharField(
        label=_("Note"), required=False, widget=forms.Textarea(attrs={"rows": 2}), max_length=500
    )
    field_order = ["on", "odometer"]

    def __init__(self, *args: Any, today: date, **more: Any) -> None:
        super().__init__(*args, **more)
        self.initial.setdefault("on", today)
        if self.is_bound:
            name, email, telephone = (str(self.data.get(key, "")) for key in ("name", "email", "telephone"))
            self.ask_known(name, email, telephone)


class WithdrawForm(forms.Form):
    reason = forms.ChoiceField(
        label=_("Reason"), choices=Certificate.WithdrawnReason.choices, widget=forms.RadioSelect
    )
    note = forms.CharField(label=_("What happened"), widget=forms.Textarea(attrs={"rows": 2}), max_length=500)


class NumberForm(forms.Form):
    """Number and code typed by hand, by anybody."""

    number = forms.CharField(label=_("Certificate number"), max_length=40)
    code = forms.CharField(
        label=_("Code"), max_length=40, help_text=_("Sixteen letters and digits beside the square.")
    )


class MatchForm(forms.Form):
    typed = forms.CharField(
        label=_("Plate, or the last six characters of the VIN"),
        max_length=40,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


class TextReadForm(forms.Form):
    read_where = forms.CharField(
        label=_("Where it was read"),
        max_length=200,
        help_text=_("The official text, with the day: an address, a gazette, a print."),
    )


class MakerTermsForm(forms.Form):
    product: Any = forms.ModelChoiceField(label=_("Film"), queryset=None)
    title = forms.CharField(label=_("Title, as it stands on it"), max_length=160)
    dated = DayField(label=_("Date it carries"))
    months = forms.IntegerField(
        label=_("Months it promises"),
        required=False,
        min_value=1,
        max_value=600,
        help_text=_("Empty: not one term for all."),
        widget=forms.NumberInput(attrs={"step": 12}),
    )
    report_days = forms.IntegerField(
        label=_("Days to claim a defect from finding it"),
        required=False,
        min_value=1,
        max_value=3650,
        help_text=_("Empty: the terms say no deadline."),
    )
    answer_days = forms.IntegerField(
        label=_("Days in which the maker answers"),
        required=False,
        min_value=1,
        max_value=3650,
        help_text=_("Empty: the terms say none."),
    )
    file = forms.FileField(
        label=_("File"),
        help_text=_("A PDF or plain text, at most 20 MB. It is kept as it is."),
        widget=forms.FileInput(attrs={"accept": "application/pdf,text/plain"}),
    )

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        field = self.fields["product"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = FilmProduct.objects.order_by("maker", "name")

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size > MOST_BYTES:
            raise forms.ValidationError(_("The file is larger than 20 MB."))
        return file


class OwnKeyForm(forms.Form):
    file = forms.FileField(
        label=_("PKCS #12 file"),
        help_text=_("An elliptic-curve key with its certificate (.p12 or .pfx). It is kept sealed."),
        widget=forms.FileInput(attrs={"accept": ".p12,.pfx"}),
    )
    password = forms.CharField(
        label=_("Its password"),
        required=False,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "off"}),
    )


class LogoForm(forms.Form):
    picture = forms.FileField(
        label=_("Picture"),
        help_text=_("JPEG, PNG, WebP or HEIC. It is cleaned and printed at most 52 mm wide and 15 mm high."),
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp,image/heic"}),
    )
