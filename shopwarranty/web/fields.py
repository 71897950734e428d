"""Form fields that keep "not recorded" apart from "no", and moments the device's own picker fills in."""

from typing import Any

from django import forms
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

Words = str | Promise
MOST = 9_999  # of anything that is counted: more is a slip of the finger, and fits no column
YES, NO, NOT_RECORDED = _("Yes"), _("No"), _("Not recorded")


class YesNoNotRecorded(forms.TypedChoiceField):
    """Three pieces to press: yes, no, not recorded. Cleans to True, False or None; none pressed is None."""

    widget = forms.RadioSelect

    def __init__(self, *, yes: Words = YES, no: Words = NO, **more: Any) -> None:
        more.setdefault("required", False)
        choices = [("yes", yes), ("no", no), ("", NOT_RECORDED)]
        super().__init__(choices=choices, coerce=lambda word: word == "yes", empty_value=None, **more)

    def prepare_value(self, value: Any) -> Any:
        """The word behind a stored value; what was typed comes back as it was."""
        if value is True or value is False:
            return "yes" if value else "no"
        return "" if value is None else value

    def has_changed(self, initial: Any, data: Any) -> bool:
        return bool(self.prepare_value(initial) != self.prepare_value(data))


class DateInput(forms.DateInput):
    input_type = "date"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__(attrs, format="%Y-%m-%d")


class TimeInput(forms.TimeInput):
    input_type = "time"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__(attrs, format="%H:%M")


class MomentInput(forms.DateTimeInput):
    input_type = "datetime-local"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__(attrs, format="%Y-%m-%dT%H:%M")


class DayField(forms.DateField):
    """A calendar day, by the device's own picker; typed as in the language or as 2026-11-25."""

    widget = DateInput


class ClockField(forms.TimeField):
    """A time of day in the shop's zone."""

    widget = TimeInput


class MomentField(forms.DateTimeField):
    """Day and time in the shop's zone (the active one); cleans to an aware moment."""

    widget = MomentInput
