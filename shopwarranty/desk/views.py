"""Pages that span the rooms: the day at a glance, and search."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET

from shopwarranty.shops.access import ANYONE, allow

from . import search as finding
from .sentences import day_sentence
from .today import load_today


@require_GET
@allow(ANYONE)
def today(request: Any) -> HttpResponse:
    day = load_today(request.shop, request.member, request.now)
    return render(request, "desk/today.html", {"day": day, "day_sentence": day_sentence(day)})


@require_GET
@allow(ANYONE)
def search(request: Any) -> HttpResponse:
    words = request.GET.get("q", "").strip()
    hits = finding.search(request.shop.slug, words)
    exact = [hit for hit in hits if hit.exact]
    if len(exact) == 1 and len(hits) == 1:
        return redirect(exact[0].url)
    return render(request, "desk/search.html", {"words": words, "hits": hits})
