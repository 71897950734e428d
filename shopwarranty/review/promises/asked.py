"""What a reader narrows the page to: a period by the calendar, and a film family."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from shopwarranty.web.fields import DayField


@dataclass(frozen=True, slots=True)
class Asked:
    """`since` and `until` both included; "" and None: all there is."""

    family: str = ""
    since: date | None = None
    until: date | None = None

    def inside(self, day: date) -> bool:
        return (self.since is None or day >= self.since) and (self.until is None or day <= self.until)

    def query(self) -> dict[str, str]:
        days = {"since": self.since, "until": self.until}
        said = {key: day.isoformat() for key, day in days.items() if day}
        return {**({"family": self.family} if self.family else {}), **said}


class AskedForm(forms.Form):
    family = forms.ChoiceField(label=_("Film"), required=False)
    since = DayField(label=_("From"), required=False)
    until = DayField(label=_("to"), required=False)

    def __init__(self, said: Mapping[str, Any], *, families: Sequence[tuple[str, str]]) -> None:
        super().__init__(said)
        self.fields["family"].choices = [("", _("all")), *families]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if said.get("since") and said.get("until") and said["since"] > said["until"]:
            self.add_error("until", _("This day lies before the first one."))
        return said

    def asked(self) -> Asked:
        """Whatever cannot be read is left out, and the page says so."""
        self.full_clean()
        said = self.cleaned_data
        return Asked(said.get("family") or "", said.get("since"), said.get("until"))
