"""The form for a flat file: the file, what to compare, what to hold equal."""

from __future__ import annotations

from typing import Any

from django import forms
from django.template.defaultfilters import filesizeformat
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from .flat_review import MOST_BYTES, FlatOptions

MOST_COLUMNS = 200
CSV = {"accept": ".csv,text/csv"}


class FlatForm(forms.Form):
    lives = forms.FileField(label=gettext_lazy("File of lives (CSV)"), widget=forms.FileInput(attrs=CSV))
    factors = forms.CharField(
        label=gettext_lazy("Columns to compare"),
        required=False,
        max_length=4000,
        help_text=gettext_lazy("With commas between them. Empty: all that are not a day or the cluster."),
    )
    adjust = forms.CharField(
        label=gettext_lazy("Columns to hold equal"),
        required=False,
        max_length=4000,
        help_text=gettext_lazy(
            "Enter every comparison and are not compared. Empty: panel, edge, place, place_kind, installer "
            "and film, where the file has them."
        ),
    )

    def clean_lives(self) -> Any:
        file = self.cleaned_data["lives"]
        if file.size > MOST_BYTES:
            sizes = {"most": filesizeformat(MOST_BYTES), "size": filesizeformat(file.size)}
            raise forms.ValidationError(_("At most %(most)s are worked out here; this is %(size)s.") % sizes)
        return file

    def options(self, *, installers: bool) -> FlatOptions:
        said = self.cleaned_data
        return FlatOptions(names(said["factors"]), names(said["adjust"]), installers)


def names(said: str) -> list[str] | None:
    found = [name.strip() for name in said.split(",") if name.strip()]
    return found[:MOST_COLUMNS] or None
