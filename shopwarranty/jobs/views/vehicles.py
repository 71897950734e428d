"""One vehicle: what it is, its plates and people with their dates, and every job on it."""

from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from shopwarranty.shops.access import ANYONE, actor_of, allow
from shopwarranty.trade import catalogue
from shopwarranty.trade.vin import last_six
from shopwarranty.web import nav
from shopwarranty.web.notices import tell
from shopwarranty.web.seen import SAVED_JUST_NOW
from shopwarranty.web.trade_names import first_upper, trade_name

from .. import actions
from ..forms.vehicles import (
    ChangePartyForm,
    ChangeVehicleForm,
    HolderForm,
    PlateForm,
    VehicleForm,
    party_initial,
)
from ..models import Job, Plate, Vehicle
from .new_job import check_digit_words, chosen_party
from .rows import the_party, the_vehicle


@require_GET
@allow(ANYONE)
def vehicle(request: Any, pk: int) -> HttpResponse:
    row = the_vehicle(pk)
    slug = request.shop.slug
    sought = row.plate_now or last_six(row.vin)
    context = {
        "vehicle": row,
        "body_name": first_upper(trade_name(catalogue.body(row.body_style), request.shop)),
        "plates": row.plates.all(),
        "shared": plates_elsewhere(row),
        "holdings": row.holdings.select_related("party"),
        "jobs": Job.objects.filter(vehicle=row).select_related("method_version__method"),
        "certificates_url": with_query(nav.address("certificates", slug), sought),
        "checks_url": with_query(nav.address("checks", slug), sought, show="all"),
        "defects_url": with_query(nav.address("defects", slug), sought, asked="words", state="all"),
        "section": "jobs",
    }
    return render(request, "jobs/vehicle.html", context)


def with_query(address: str, words: str, asked: str = "q", **more: str) -> str:
    """The list of another room, searched for this vehicle; nothing where that room has no page."""
    return f"{address}?{urlencode({asked: words, **more})}" if address and words else address


def plates_elsewhere(row: Vehicle) -> dict[str, Any]:
    """Plates of this vehicle that another one carries or carried: text -> that other plate row."""
    texts = [plate.searched for plate in row.plates.all()]
    others = Plate.objects.filter(searched__in=texts).exclude(vehicle=row).select_related("vehicle")
    return {plate.searched: plate for plate in others}


@require_http_methods(["GET", "POST"])
@allow(ANYONE)
def change_vehicle(request: Any, pk: int) -> HttpResponse:
    row = the_vehicle(pk)
    initial = {name: getattr(row, name) for name in VehicleForm.VALUES}
    if row.vin_kind == Vehicle.VinKind.TO_READ:
        initial["vin_kind"] = Vehicle.VinKind.VIN
    form = ChangeVehicleForm(request.POST or None, shop=request.shop, initial=initial, known=row)
    if form.is_valid() and changed(request, row, form):
        if form.doubtful:
            tell(request, check_digit_words(), level=messages.WARNING)
        else:
            tell(request, _("Saved. Certificates already issued stay as they are."))
        return redirect("vehicle", request.shop.slug, pk)
    return render(request, "jobs/change_vehicle.html", {"form": form, "vehicle": row, "section": "jobs"})


def changed(request: Any, row: Vehicle, form: VehicleForm) -> bool:
    try:
        actions.change_vehicle(vehicle=row, values=form.values(), actor=actor_of(request), now=request.now)
    except actions.PanelsElsewhere as refusal:
        words = _("Film is recorded on panels that this body style does not have: %(panels)s.")
        form.add_error("body_style", words % {"panels": ", ".join(refusal.panels)})
        return False
    except actions.StaleSave:
        form.add_error(None, SAVED_JUST_NOW)
        return False
    return True


@require_http_methods(["GET", "POST"])
@allow(ANYONE)
def vehicle_plate(request: Any, pk: int) -> HttpResponse:
    """Another plate from a day on; the old one keeps its dates."""
    row = the_vehicle(pk)
    form = PlateForm(request.POST or None, initial={"since": request.today, "plate": row.plate_now})
    if form.is_valid():
        values = form.cleaned_data
        actions.set_plate(
            vehicle=row,
            text=values["plate"],
            since=values["since"],
            ends_elsewhere=values["moved"],
            actor=actor_of(request),
            now=request.now,
        )
        tell(request, _("Plate kept with its day. The old one still finds the vehicle."))
        return redirect("vehicle", request.shop.slug, pk)
    return render(request, "jobs/vehicle_plate.html", {"form": form, "vehicle": row, "section": "jobs"})


@require_http_methods(["GET", "POST"])
@allow(ANYONE)
def vehicle_holder(request: Any, pk: int) -> HttpResponse:
    """Somebody takes a role from a day on; whoever had it is kept with an end."""
    row = the_vehicle(pk)
    form = HolderForm(request.POST or None, today=request.today)
    if form.is_valid():
        hold(request, row, form)
        tell(request, _("Kept with its day. Cover already promised is not changed by this."))
        return redirect("vehicle", request.shop.slug, pk)
    return render(request, "jobs/vehicle_holder.html", {"form": form, "vehicle": row, "section": "jobs"})


@transaction.atomic
def hold(request: Any, row: Vehicle, form: HolderForm) -> None:
    actor, now, values = actor_of(request), request.now, form.cleaned_data
    party = chosen_party(values.get("known_party"))
    party = party or actions.add_party(**form.party_values(), actor=actor, now=now)
    since, role = values["since"], values["role"]
    actions.hold_vehicle(vehicle=row, party=party, role=role, since=since, actor=actor, now=now)


@require_http_methods(["GET", "POST"])
@allow(ANYONE)
def party(request: Any, pk: int) -> HttpResponse:
    """Contact data of a person or firm."""
    row = the_party(pk)
    form = ChangePartyForm(request.POST or None, initial=party_initial(row))
    if form.is_valid():
        actor, values = actor_of(request), form.party_values()
        try:
            actions.change_party(party=row, values=values, actor=actor, now=request.now)
            tell(request, _("Saved. Certificates already issued stay as they are."))
            return redirect("party", request.shop.slug, pk)
        except actions.StaleSave:
            form.add_error(None, SAVED_JUST_NOW)
    holdings = row.holdings.select_related("vehicle")
    context = {"form": form, "party": row, "holdings": holdings, "section": "jobs"}
    return render(request, "jobs/party.html", context)
