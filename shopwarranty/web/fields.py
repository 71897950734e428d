"""Form fields that keep "not recorded" apart from "no"."""

from typing import Any

from django import forms
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

Words = str | Promise
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
