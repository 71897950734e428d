"""What the desk types about checks. Writing is left to the actions."""

from datetime import date, datetime, time
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.utils.translation import gettext_lazy as _

from .models import ContactAttempt


class BeyondForm(forms.Form):
    """A time the shop does not offer by itself."""

    on = forms.DateField(label=_("Day"), widget=forms.DateInput(attrs={"type": "date"}))
    at = forms.TimeField(label=_("Time"), widget=forms.TimeInput(attrs={"type": "time", "step": 900}))
    why = forms.CharField(
        label=_("Why"),
        max_length=160,
        help_text=_("Stands beside the booking, so that whoever sees it understands."),
    )

    def starts_local(self) -> datetime:
        on: date = self.cleaned_data["on"]
        at: time = self.cleaned_data["at"]
        return datetime.combine(on, at)


class CallForm(forms.Form):
    """How a call went."""

    result = forms.ChoiceField(
        label=_("What came of it"), choices=ContactAttempt.Result.choices, widget=forms.RadioSelect
    )
    again_on = forms.DateField(
        label=_("Call again on"), required=False, widget=forms.DateInput(attrs={"type": "date"})
    )
    again_time = forms.TimeField(
        label=_("At"), required=False, widget=forms.TimeInput(attrs={"type": "time", "step": 900})
    )
    note = forms.CharField(label=_("Note"), required=False, max_length=240)

    def clean(self) -> dict[str, Any]:
        values: dict[str, Any] = super().clean() or self.cleaned_data
        if values.get("again_time") and not values.get("again_on"):
            self.add_error("again_on", _("Say on which day."))
        return values

    def again_at(self, zone: ZoneInfo, opens: time = time(8)) -> datetime | None:
        on: date | None = self.cleaned_data["again_on"]
        if on is None:
            return None
        return datetime.combine(on, self.cleaned_data["again_time"] or opens, tzinfo=zone)


class CancelForm(forms.Form):
    by = forms.ChoiceField(
        label=_("Who calls it off"),
        choices=[("holder", _("the holder")), ("shop", _("we do"))],
        widget=forms.RadioSelect,
    )
    why = forms.CharField(label=_("Why"), required=False, max_length=160)


class AsideForm(forms.Form):
    CAUSES = [
        ("sold", _("vehicle sold")),
        ("scrapped", _("scrapped or written off")),
        ("film_gone", _("film taken off")),
        ("not_wanted", _("holder does not want it")),
        ("other", _("other")),
    ]
    cause = forms.ChoiceField(label=_("Cause"), choices=CAUSES, widget=forms.RadioSelect)
    words = forms.CharField(label=_("In words"), required=False, max_length=120)
    all_of_vehicle = forms.BooleanField(label=_("All open checks of this vehicle"), required=False)

    def clean(self) -> dict[str, Any]:
        values: dict[str, Any] = super().clean() or self.cleaned_data
        if values.get("cause") == "other" and not values.get("words"):
            self.add_error("words", _("Say what the cause is."))
        return values

    def why(self) -> str:
        cause = str(dict(self.CAUSES)[self.cleaned_data["cause"]])
        words = self.cleaned_data["words"]
        if self.cleaned_data["cause"] == "other":
            return str(words)
        return f"{cause}: {words}" if words else cause
