"""What the shop adds to the catalogue of panels and places; an owner writes it."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from shopwarranty.shops.access import OWNER, actor_of, allow
from shopwarranty.trade import catalogue
from shopwarranty.web.notices import tell
from shopwarranty.web.trade_names import first_upper, is_american

from .. import actions
from ..forms.own_panels import ShopPanelForm, ShopPlaceForm
from ..models import ShopPanel, ShopPlace


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def own_panels(request: Any) -> HttpResponse:
    """Both lists, and a form for each."""
    adds_place = "add_place" in request.POST
    posted = request.POST or None
    panel = ShopPanelForm(None if adds_place else posted, shop=request.shop, prefix="panel")
    place = ShopPlaceForm(posted if adds_place else None, prefix="place", shop=request.shop)
    if add_panel(request, panel) or add_place(request, place):
        return redirect("own-panels", request.shop.slug)
    places = ShopPlace.objects.filter(retired_at__isnull=True)
    context = {
        "panels": ShopPanel.objects.filter(retired_at__isnull=True),
        "places": [(row, panel_words(request, row)) for row in places],
        "panel_form": panel,
        "place_form": place,
        "section": "methods",
    }
    return render(request, "jobs/own_panels.html", context)


def panel_words(request: Any, row: ShopPlace) -> str:
    name = catalogue.pooled_panel_name(row.panel, american=is_american(request.shop))
    return first_upper(_(name))


def add_panel(request: Any, form: ShopPanelForm) -> bool:
    if not form.is_valid():
        return False
    try:
        actions.add_shop_panel(**form.cleaned_data, actor=actor_of(request), now=request.now)
        tell(request, _("Added. It lies on the shelf below the drawing of every vehicle it fits."))
    except actions.NameTaken:
        form.add_error("name", _("A panel of this name is there already."))
        return False
    return True


def add_place(request: Any, form: ShopPlaceForm) -> bool:
    if not form.is_valid():
        return False
    try:
        actions.add_shop_place(**form.cleaned_data, actor=actor_of(request), now=request.now)
        tell(request, _("Added. Panels started from now on have it."))
    except actions.NameTaken:
        form.add_error("name", _("A place of this name is on that panel already."))
        return False
    return True


@require_POST
@allow(OWNER)
def retire_own_panel(request: Any, pk: int) -> HttpResponse:
    return retire(request, get_object_or_404(ShopPanel.objects.all(), pk=pk))


@require_POST
@allow(OWNER)
def retire_own_place(request: Any, pk: int) -> HttpResponse:
    return retire(request, get_object_or_404(ShopPlace.objects.all(), pk=pk))


def retire(request: Any, row: ShopPanel | ShopPlace) -> HttpResponse:
    actions.retire_own(row=row, actor=actor_of(request), now=request.now)
    tell(request, _("Not offered any more. Recorded jobs keep it."))
    return redirect("own-panels", request.shop.slug)
