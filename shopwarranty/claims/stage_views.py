"""The shop says how long each stage of a claim may take."""

from typing import Any

from django import forms
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from shopwarranty.shops.access import OWNER, actor_of, allow
from shopwarranty.web.notices import tell

from .stage_days import MOST_DAYS, days_by_stage, set_stage_days
from .stages import DAYS

LABELS = {
    "received": gettext_lazy("Until it is acknowledged"),
    "acknowledged": gettext_lazy("Until it is taken into assessment"),
    "reopened": gettext_lazy("Until one that was opened again is taken into assessment"),
    "in_assessment": gettext_lazy("Until it is decided"),
    "decided": gettext_lazy("Until the decision is told"),
    "told": gettext_lazy("Until what was accepted is put right"),
    "remedied": gettext_lazy("Until the holder was asked and it is closed"),
}


class StageDaysForm(forms.Form):
    """One number for each stage."""

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        for state, usual in DAYS.items():
            self.fields[str(state)] = forms.IntegerField(
                label=LABELS[str(state)],
                min_value=0,
                max_value=MOST_DAYS,
                help_text=_("Usually %(days)s.") % {"days": usual},
                widget=forms.NumberInput(attrs={"step": 1, "data-usual": usual}),
            )


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def stage_days(request: Any) -> HttpResponse:
    form = StageDaysForm(request.POST or None, initial=days_by_stage())
    if form.is_valid():
        changed = set_stage_days(days=form.cleaned_data, actor=actor_of(request), now=request.now)
        tell(request, _("Kept, for stages that begin from now on.") if changed else _("Nothing was changed."))
        return redirect("claims", request.shop.slug)
    return render(request, "claims/stage_days.html", {"form": form, "section": "claims"})
