"""What is typed about corrective actions."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from shopwarranty.shops.models import Member
from shopwarranty.web.fields import DayField


class ActionForm(forms.Form):
    text = forms.CharField(
        label=_("What is done differently"), max_length=2000, widget=forms.Textarea(attrs={"rows": 3})
    )
    owner: Any = forms.ModelChoiceField(label=_("Who sees to it"), queryset=None)
    due_on = DayField(label=_("Until"), required=False)

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        field = self.fields["owner"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = Member.objects.filter(left_at__isnull=True).order_by("name")


class InUseForm(forms.Form):
    effective_from = DayField(label=_("Work is done that way from"))


class EffectForm(forms.Form):
    words = forms.CharField(
        label=_("What came of it"),
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_(
            "With the figures of the review before and after that day. “Too few to say” is an answer."
        ),
    )


class WhyForm(forms.Form):
    why = forms.CharField(label=_("Why"), max_length=500, widget=forms.Textarea(attrs={"rows": 2}))
