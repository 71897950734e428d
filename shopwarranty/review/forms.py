"""What the reader narrows the review to; sent by GET, so that an address can be kept and passed on."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from shopwarranty.trials.drawn_places import anything_drawn, lives_in_trials
from shopwarranty.web.fields import DayField

from .lives import LifeTable
from .selection import Part, Selection, bodies, families
from .words import Words


class NarrowForm(forms.Form):
    family = forms.ChoiceField(label=_("Film"), required=False)
    body = forms.ChoiceField(label=_("Body style"), required=False)
    since = DayField(label=_("Finished from"), required=False)
    until = DayField(label=_("to"), required=False)
    trials = forms.ChoiceField(
        label=_("Places of trials"), choices=[("", _("included")), ("out", _("left out"))], required=False
    )
    part = forms.ChoiceField(
        choices=[(part.value, part.value) for part in Part], required=False, widget=forms.HiddenInput
    )

    def __init__(self, data: Any, *, table: LifeTable, words: Words) -> None:
        super().__init__(data)
        self.families = families(table)
        self.has_trials = anything_drawn()
        self.fields["family"].choices = [(key, words.family(key)) for key in self.families]  # type: ignore[attr-defined]
        self.fields["body"].choices = [  # type: ignore[attr-defined]
            ("", _("all")),
            *((key, words.body(key)) for key in bodies(table)),
        ]
        if len(self.families) < 2:
            self.fields["family"].widget = forms.HiddenInput()

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if said.get("since") and said.get("until") and said["since"] > said["until"]:
            self.add_error("until", _("This day lies before the first one."))
        return said

    def selection(self) -> Selection:
        """What was asked for; whatever cannot be read is left out, and the page says so."""
        self.full_clean()
        said = self.cleaned_data
        without = self.has_trials and said.get("trials") == "out"
        return Selection(
            family=said.get("family") or (self.families[0] if self.families else ""),
            part=Part(said.get("part") or Part.ENDS),
            body=said.get("body") or "",
            since=said.get("since"),
            until=said.get("until"),
            without_trials=without,
            trial_lives=lives_in_trials() if without else frozenset(),
        )
