"""The review as files: CSV, workbook, JSON and PDF, each from the figures of the page."""

from __future__ import annotations

import json
from typing import Any

from django.http import HttpResponse
from django.views.decorators.http import require_GET

from shopwarranty.analysis.results import Review
from shopwarranty.analysis.review_json import as_object, to_json
from shopwarranty.shops.access import ANYONE, allow

from . import paper
from .exports import as_csv, effect_sheet, group_sheet
from .opened import opened_by, without_installers
from .page_figures import figures_of
from .workbook import workbook

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@require_GET
@allow(ANYONE)
def figures_file(request: Any) -> HttpResponse:
    page = opened_by(request)
    sheet = group_sheet(page.found, page.words, page.installers)
    return as_file(as_csv(sheet), "text/csv; charset=utf-8", "review-figures.csv")


@require_GET
@allow(ANYONE)
def effects_file(request: Any) -> HttpResponse:
    page = opened_by(request)
    sheet = effect_sheet(page.found, page.words)
    return as_file(as_csv(sheet), "text/csv; charset=utf-8", "review-effects.csv")


@require_GET
@allow(ANYONE)
def json_file(request: Any) -> HttpResponse:
    page = opened_by(request)
    review = without_installers(page.found.review, page.installers)
    text = estimates_json(review) if page.selection.exploring else to_json(review)
    return as_file(text, "application/json; charset=utf-8", "review.json")


@require_GET
@allow(ANYONE)
def workbook_file(request: Any) -> HttpResponse:
    page = opened_by(request)
    content = workbook(page, figures_of(page, request.today), request.now)
    return as_file(content, XLSX, "review.xlsx")


@require_GET
@allow(ANYONE)
def pdf_file(request: Any) -> HttpResponse:
    page = opened_by(request)
    content = paper.render(request.shop, figures_of(page, request.today), request.now)
    return as_file(content, "application/pdf", "review.pdf")


def estimates_json(review: Review) -> str:
    """Of a review that was narrowed down: the same keys, every verdict null."""
    found = as_object(review)
    found["effects"] = [{**effect, "verdict": None} for effect in found["effects"]]
    return json.dumps(found, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def as_file(content: str | bytes, kind: str, name: str) -> HttpResponse:
    answer = HttpResponse(content, content_type=kind)
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    answer["Cache-Control"] = "private, no-store"
    return answer
