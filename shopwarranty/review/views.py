"""Pages of the review: the answer with its figures, the places behind each, and the same as files."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from shopwarranty.analysis.review_json import to_json
from shopwarranty.shops.access import ANYONE, allow
from shopwarranty.web.nav import address as page_address

from .caveats import caveats, record_gaps
from .charts import forest_scale
from .columns import rows_in
from .counted import Counted, What, jobs_coming
from .curve_lines import curve_sheet
from .drawn_rates import rate_sheet
from .effect_lines import effect_lines
from .exports import effects_csv, groups_csv
from .headline import answer, vehicles_of
from .monday import monday
from .opened import Opened, opened_by, without_installers
from .place_lines import place_lines
from .places_words import heading_of, levels_asked
from .rule_words import METHOD, REFERENCES, failure_rule
from .selection import Part
from .tables import tables

PER_PAGE = 50
EFFECTS_SHOWN = 8


@require_GET
@allow(ANYONE)
def review(request: Any) -> HttpResponse:
    """Which panels fail most, how sure that is, what goes with it, and what to do on Monday."""
    page = opened_by(request)
    context = {"page": page, "form": page.form, "section": "review", "words": page.words}
    if not len(page.table):
        jobs_url = page_address("jobs", request.shop.slug)
        return render(request, "review/empty.html", context | {"jobs_url": jobs_url})
    return render(request, "review/review.html", context | figures_of(page, request.today))


def figures_of(page: Opened, today: Any) -> dict[str, Any]:
    found, table, words = page.found, page.table, page.words
    effects = effect_lines(found, words)
    return {
        "found": found,
        "family": words.family(page.selection.family),
        "surface": page.selection.part is Part.SURFACE,
        "exploring": page.selection.exploring,
        "since": table.first_day(),
        "answer": answer(found, words),
        "steps": monday(found, table, words, jobs_coming(today)),
        "effects": effects[:EFFECTS_SHOWN],
        "more_effects": effects[EFFECTS_SHOWN:],
        "scale": forest_scale(),
        "rates": rate_sheet(found, table, words),
        "curve": curve_sheet(found, words),
        "tables": tables(found, words, page.installers),
        "caveats": caveats(found, table, words),
        "gaps": record_gaps(found, words),
        "rule": failure_rule(words.shop, page.selection),
        "method": METHOD,
        "references": REFERENCES,
        "query": urlencode(page.selection.query()),
    }


@require_GET
@allow(ANYONE)
def places(request: Any) -> HttpResponse:
    """The places a figure was counted from."""
    page = opened_by(request)
    levels = levels_asked(request.GET)
    if any(name == "installer" and level not in page.installers for name, level in levels):
        raise Http404
    what = request.GET.get("what", What.WATCHED)
    if what not in list(What):
        raise Http404
    jobs = jobs_coming(request.today) if what == What.COMING else frozenset()
    ids = Counted(What(what), levels, jobs).ids(page.table, page.found.asked)
    vehicles = page.table.vehicle[rows_in(page.table.life, ids)]
    part = Paginator(ids.tolist(), PER_PAGE).get_page(request.GET.get("page"))
    context = {
        "part": part,
        "lines": place_lines(list(part.object_list), page.words),
        "vehicles": vehicles_of(vehicles),
        "heading": heading_of(What(what), len(ids), levels, page.words),
        "query": urlencode(page.selection.query()),
        "section": "review",
    }
    return render(request, "review/places.html", context)


@require_GET
@allow(ANYONE)
def figures_file(request: Any) -> HttpResponse:
    page = opened_by(request)
    return as_file(groups_csv(page.found, page.words, page.installers), "text/csv", "review-figures.csv")


@require_GET
@allow(ANYONE)
def effects_file(request: Any) -> HttpResponse:
    page = opened_by(request)
    return as_file(effects_csv(page.found, page.words), "text/csv", "review-effects.csv")


@require_GET
@allow(ANYONE)
def json_file(request: Any) -> HttpResponse:
    page = opened_by(request)
    text = to_json(without_installers(page.found.review, page.installers))
    return as_file(text, "application/json", "review.json")


def as_file(text: str, kind: str, name: str) -> HttpResponse:
    answer = HttpResponse(text, content_type=f"{kind}; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    answer["Cache-Control"] = "private, no-store"
    return answer
