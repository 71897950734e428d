"""The shop's own settings: identity, hours, closed days, bays."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from shopwarranty.web.notices import tell

from .. import actions
from ..access import OWNER, actor_of, allow
from ..forms import BaysForm, ClosedDayForm, HoursForm, ShopForm
from ..models import Bay, ClosedDay, OpeningHours, Shop


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def shop_settings(request: Any) -> HttpResponse:
    shop = Shop.objects.get(pk=request.shop.pk)
    form = ShopForm(request.POST or None, instance=shop)
    if form.is_valid():
        stored = Shop.objects.get(pk=shop.pk)
        actions.change_shop(shop=stored, values=form.cleaned_data, actor=actor_of(request), now=request.now)
        tell(request, _("Saved. Certificates already issued stay as they are."))
        return redirect("shop-settings", request.shop.slug)
    return render(request, "shops/settings.html", {"form": form})


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def hours(request: Any) -> HttpResponse:
    week = [actions.Hours(row.weekday, row.opens, row.closes) for row in OpeningHours.objects.all()]
    form = HoursForm(request.POST or None, week=week)
    if form.is_valid():
        actions.set_hours(hours=form.week, actor=actor_of(request), now=request.now)
        tell(request, _("Saved. Bookings already made stay as they are."))
        return redirect("shop-hours", request.shop.slug)
    closed = ClosedDay.objects.filter(on__gte=request.today)
    context = {"form": form, "closed": closed, "day_form": ClosedDayForm(), "section": "shop-settings"}
    return render(request, "shops/hours.html", context)


@require_POST
@allow(OWNER)
def close_day(request: Any) -> HttpResponse:
    form = ClosedDayForm(request.POST)
    if form.is_valid():
        actions.close_day(**form.cleaned_data, actor=actor_of(request), now=request.now)
        tell(request, _("No checks are offered on that day."))
        return redirect("shop-hours", request.shop.slug)
    week = [actions.Hours(row.weekday, row.opens, row.closes) for row in OpeningHours.objects.all()]
    closed = ClosedDay.objects.filter(on__gte=request.today)
    context = {"form": HoursForm(week=week), "closed": closed, "day_form": form, "section": "shop-settings"}
    return render(request, "shops/hours.html", context)


@require_POST
@allow(OWNER)
def open_day(request: Any, pk: int) -> HttpResponse:
    day = get_object_or_404(ClosedDay.objects.all(), pk=pk)
    actions.open_day(day=day, actor=actor_of(request), now=request.now)
    tell(request, _("Checks are offered on that day again."))
    return redirect("shop-hours", request.shop.slug)


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def bays(request: Any) -> HttpResponse:
    names = Bay.objects.filter(retired_at__isnull=True).values_list("name", flat=True)
    form = BaysForm(request.POST or None, initial={"names": "\n".join(names)})
    if form.is_valid():
        actions.set_bays(names=form.cleaned_data["names"], actor=actor_of(request), now=request.now)
        tell(request, _("Saved."))
        return redirect("shop-bays", request.shop.slug)
    return render(request, "shops/bays.html", {"form": form, "section": "shop-settings"})
