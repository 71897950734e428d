"""Pages of the review: the answer with its figures, and the places behind each."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from shopwarranty.shops.access import ANYONE, OWNER, allow
from shopwarranty.web.nav import address as page_address
from shopwarranty.web.notices import tell

from .columns import rows_in
from .counted import Counted, What, jobs_coming
from .fixing import fix_review
from .headline import vehicles_of
from .opened import opened_by
from .page_figures import figures_of
from .place_lines import place_lines
from .places_words import heading_of, levels_asked

PER_PAGE = 50


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


@require_POST
@allow(OWNER)
def review_now(request: Any) -> HttpResponse:
    """The fixed review of everything, before its month is over."""
    fix_review(shop=request.shop, now=request.now, asked_for=True)
    tell(request, _("The review was made anew: its verdicts stand until the next one."))
    return redirect("review", request.shop.slug)
