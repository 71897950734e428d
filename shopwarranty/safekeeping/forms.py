"""Forms about people's data."""

from django import forms
from django.utils.translation import gettext_lazy as _


class AskedForm(forms.Form):
    """How the person asked, so that it can be shown later."""

    how = forms.CharField(
        label=_("How did they ask?"), max_length=160, help_text=_("By letter of 3 November, at the desk, ...")
    )


class RetentionForm(forms.Form):
    years_after = forms.IntegerField(
        label=_("Years after the last promise"),
        min_value=1,
        max_value=30,
        help_text=_("As long as somebody may still bring a claim. Ask a licensed adviser where you trade."),
    )
    from_year_end = forms.BooleanField(label=_("Counted from the end of the year"), required=False)
    erases_by_itself = forms.BooleanField(
        label=_("Then erase people without being asked"),
        required=False,
        help_text=_("Each night. What the work teaches stays: panels, film, conditions, what lifted."),
    )
    message_months = forms.IntegerField(
        label=_("Empty sent messages after months"),
        min_value=1,
        max_value=360,
        required=False,
        help_text=_(
            "That it was sent, and when, stays. Leave it empty to keep the words as long as the person."
        ),
    )
