"""A flat file of lives, reviewed while its reader waits; it is not kept, and neither is what it says."""

from __future__ import annotations

import json
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from shopwarranty.shops.access import ANYONE, allow
from shopwarranty.shops.models import Member, Shop

from . import flat_lines, said
from .exports import as_csv
from .file_views import as_file
from .flat_forms import FlatForm
from .flat_review import LIMITS, MOST_ROWS, CannotReview, review_flat

COLUMNS = ("cluster", "clean_day", "failed_day", "entry_day", "all_clean_day", "all_failed_day")


@never_cache
@require_http_methods(["GET", "POST"])
@allow(ANYONE)
def flat_file(request: Any) -> HttpResponse:
    form = FlatForm(request.POST or None, request.FILES or None)
    context = {
        "form": form,
        "section": "review",
        "most_rows": said.count(MOST_ROWS),
        "seconds": LIMITS.cpu_s,
        "columns": COLUMNS,
    }
    if request.method == "POST" and form.is_valid():
        try:
            options = form.options(installers=may_see_installers(request.shop, request.member))
            found = review_flat(form.cleaned_data["lives"].read(), options)
        except CannotReview as refusal:
            return render(request, "review/flat.html", context | {"refusal": refusal}, status=400)
        return answered(request, found, form)
    return render(request, "review/flat.html", context, status=400 if form.errors else 200)


def may_see_installers(shop: Shop, member: Member) -> bool:
    """Names in a file belong to nobody here, so nobody's own figures can be told: owners or none."""
    return shop.installer_figures and member.is_owner


def answered(request: Any, found: dict[str, Any], form: FlatForm) -> HttpResponse:
    review, wanted = found["review"], request.POST.get("answer_as")
    if wanted == "json":
        text = json.dumps(review, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
        return as_file(text, "application/json; charset=utf-8", "file-review.json")
    if wanted == "figures":
        sheet = flat_lines.figures_sheet(review)
        return as_file(as_csv(sheet), "text/csv; charset=utf-8", "file-figures.csv")
    if wanted == "comparisons":
        sheet = flat_lines.comparisons_sheet(review)
        return as_file(as_csv(sheet), "text/csv; charset=utf-8", "file-comparisons.csv")
    context = {
        "section": "review",
        "name": form.cleaned_data["lives"].name,
        "heading": flat_lines.heading(review),
        "effects": flat_lines.effects(found),
        "tables": flat_lines.tables(review),
        "curve": flat_lines.curve(review),
        "warnings": flat_lines.warnings(found),
    }
    return render(request, "review/flat_answer.html", context)
