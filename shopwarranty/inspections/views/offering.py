"""When checks can be booked: notice, how far ahead, holidays, single days, bays; with the next free times."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.dateparse import parse_date
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from shopwarranty.shops.access import OWNER, actor_of, allow
from shopwarranty.shops.models import Bay, Shop
from shopwarranty.web.notices import tell

from ..actions import offering as actions
from ..offering import next_free, opening_as_typed, other_days
from ..offering_forms import BayForm, DayForm, OfferingForm
from ..opening import opening_of
from ..rules import days_of, rules_of


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def offering(request: Any) -> HttpResponse:
    shop, rules = Shop.objects.get(pk=request.shop.pk), rules_of(request.shop)
    form = OfferingForm(request.POST or None, shop=shop, rules=rules)
    if form.is_valid() and "look" not in request.POST:
        actions.change_rules(shop=shop, values=form.cleaned_data, actor=actor_of(request), now=request.now)
        tell(request, _("Saved. Bookings already made stay as they are."))
        return redirect("offering", request.shop.slug)
    return render(request, "inspections/offering.html", shown(request, form, DayForm(today=request.today)))


def shown(request: Any, form: OfferingForm, day_form: DayForm) -> dict[str, Any]:
    shop, rules = request.shop, rules_of(request.shop)
    typed = form.cleaned_data if form.is_bound and form.is_valid() else {}
    opening = opening_as_typed(shop, rules, typed) if typed else opening_of(shop, rules=rules)
    bays = Bay.objects.filter(retired_at__isnull=True).prefetch_related("check_hours")
    return {
        "form": form,
        "day_form": day_form,
        "as_typed": bool(typed),
        "free": next_free(shop, opening, request.now, request.today),
        "days": other_days(opening.days, request.today),
        "bays": list(bays),
        "section": "shop-settings",
    }


@require_POST
@allow(OWNER)
def other_day(request: Any) -> HttpResponse:
    """Closed with a reason, or other hours."""
    day_form = DayForm(request.POST, today=request.today)
    if day_form.is_valid():
        said, who = day_form.cleaned_data, {"actor": actor_of(request), "now": request.now}
        if said["what"] == "closed":
            actions.close_on(on=said["on"], why=said["why"], **who)
            tell(request, _("No checks are offered on that day. Bookings already made stay."))
        else:
            actions.open_on(on=said["on"], own=day_form.own(), **who)
            tell(request, _("That day has its own hours."))
        return redirect("offering", request.shop.slug)
    form = OfferingForm(shop=request.shop, rules=rules_of(request.shop))
    return render(request, "inspections/offering.html", shown(request, form, day_form))


@require_POST
@allow(OWNER)
def day_again(request: Any) -> HttpResponse:
    """Opens a holiday all the same, or takes back what was said about a day."""
    try:
        on = parse_date(request.POST.get("on", ""))
    except ValueError:
        on = None
    if on is not None:
        who = {"actor": actor_of(request), "now": request.now}
        days = days_of(request.shop, rules_of(request.shop))
        if on in days.closed or on in days.own:
            actions.as_usual_on(on=on, **who)
            tell(request, _("That day is as usual again."))
        elif days.holiday(on):
            actions.open_on(on=on, own=None, **who)
            tell(request, _("Checks are offered on that holiday."))
    return redirect("offering", request.shop.slug)


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def bay_hours(request: Any, pk: int) -> HttpResponse:
    bay = get_object_or_404(Bay.objects.filter(retired_at__isnull=True), pk=pk)
    form = BayForm(request.POST or None, bay=bay)
    if form.is_valid():
        actions.set_bay_hours(
            bay=bay,
            takes_checks=form.cleaned_data["takes_checks"],
            hours=form.week,
            actor=actor_of(request),
            now=request.now,
        )
        tell(request, _("Saved. Bookings already made stay as they are."))
        return redirect("offering", request.shop.slug)
    return render(
        request, "inspections/bay_hours.html", {"bay": bay, "form": form, "section": "shop-settings"}
    )
