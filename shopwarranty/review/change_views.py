"""Before and after a day: did a changed method go with fewer failures?"""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_GET

from shopwarranty.shops.access import ANYONE, allow
from shopwarranty.web.fields import DayField

from .change_lines import change_days, change_sheet
from .opened import opened_by
from .selection import Part


class DayForm(forms.Form):
    on = DayField(label=_("First day of the new way"))


@require_GET
@allow(ANYONE)
def review_change(request: Any) -> HttpResponse:
    page = opened_by(request)
    form = DayForm(request.GET if "on" in request.GET else None)
    days = change_days(request.shop)
    asked = form.is_valid() and page.selection.part is Part.ENDS and len(page.table)
    context = {
        "form": form,
        "days": days,
        "family": page.words.family(page.selection.family),
        "kept": page.selection.query(),
        "nothing": not len(page.table),
        "change": change_sheet(page, form.cleaned_data["on"], days) if asked else None,
        "section": "review",
    }
    return render(request, "review/change.html", context)
