"""Photos of both halves of a pair side by side; which way was used where is said only when asked for."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Q
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from shopwarranty.jobs.models import Photo
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.shops.access import ANYONE, allow
from shopwarranty.web.trade_names import first_upper

from .doing import value_of_arm
from .models import Draw, Trial, TrialUnit
from .page import blind_order
from .planning import fits
from .views import the_trial
from .words import arm_words, drawn_words

MOST = 60


@dataclass(frozen=True, slots=True)
class Side:
    """`arm` is empty in the blind view."""

    letter: str
    where: str
    arm: str
    job: int
    photos: tuple[Photo, ...]


@dataclass(frozen=True, slots=True)
class OfDay:
    on: date
    sides: tuple[tuple[Side, tuple[Photo, ...]], ...]


@require_GET
@allow(ANYONE)
def trial_pair(request: Any, pk: int, pair: int) -> HttpResponse:
    trial = the_trial(pk)
    rows = list(trial.draws.filter(pair=pair).select_related("job__vehicle", "place__piece"))
    if not rows:
        raise Http404
    arms = bool(request.GET.get("arms"))
    sides = [
        _side(trial, draw, n, arms, request.shop) for n, draw in enumerate(sorted(rows, key=blind_order))
    ]
    numbers = set(trial.draws.filter(pair__in=[pair - 1, pair + 1]).values_list("pair", flat=True))
    context = {
        "trial": trial,
        "pair": pair,
        "of_jobs": trial.unit == TrialUnit.JOBS,
        "arms": arms,
        "sides": sides,
        "days": list(_by_day(sides, request.shop.zone)),
        "before": pair - 1 if pair - 1 in numbers else None,
        "after": pair + 1 if pair + 1 in numbers else None,
        "section": "trials",
    }
    return render(request, "trials/pair.html", context)


def _side(trial: Trial, draw: Draw, number: int, arms: bool, shop: Any) -> Side:
    return Side(
        letter="AB"[number % 2],
        where=first_upper(drawn_words(draw, ShopCatalogue(shop))),
        arm=arm_words(trial, value_of_arm(draw)) if arms else "",
        job=draw.job_id,
        photos=tuple(_photos(trial, draw)),
    )


def _photos(trial: Trial, draw: Draw) -> Iterable[Photo]:
    """Of the place; where sides are compared also those of its panel as a whole."""
    rows = Photo.objects.filter(job=draw.job_id, set_aside_at__isnull=True).select_related("panel_work")
    if not draw.panel:
        return [p for p in rows if p.panel_work and fits(trial.panels, p.panel_work.panel)][:MOST]
    if draw.place_id is None:
        return rows.filter(panel_work__panel=draw.panel)[:MOST]
    own = Q(place=draw.place_id)
    if trial.unit == TrialUnit.SIDES:
        own |= Q(panel_work__panel=draw.panel, place__isnull=True)
    return rows.filter(own)[:MOST]


def _by_day(sides: Sequence[Side], zone: Any) -> Iterable[OfDay]:
    """Newest day first; a side without a photo that day stays empty."""
    day = {
        photo.pk: (photo.taken_at or photo.added_at).astimezone(zone).date()
        for s in sides
        for photo in s.photos
    }
    for on in sorted(set(day.values()), reverse=True):
        yield OfDay(on, tuple((s, tuple(p for p in s.photos if day[p.pk] == on)) for s in sides))
