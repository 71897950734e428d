"""The vehicle was sold: what becomes of each certificate is shown first, by its own words."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from shopwarranty.jobs import actions as jobs
from shopwarranty.jobs.models import Party, Vehicle
from shopwarranty.shops.access import OWNER, actor_of, allow
from shopwarranty.web.notices import tell

from . import refusals
from .forms import SaleForm
from .snapshot import NothingToCertify
from .transfers import Outlook, Sale, outlook, transfer_vehicle


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def vehicle_sold(request: Any, pk: int) -> HttpResponse:
    vehicle = get_object_or_404(Vehicle.objects.with_plate_and_holder().select_related("shop"), pk=pk)
    found = outlook(vehicle)
    form = SaleForm(request.POST or None, today=request.today)
    if request.method == "POST" and form.is_valid() and sold(request, vehicle, form):
        return redirect("vehicle", request.shop.slug, pk)
    context = {"vehicle": vehicle, "found": list(map(shown, found)), "form": form, "section": "certificates"}
    return render(request, "warranty/sold.html", context)


def shown(each: Outlook) -> dict[str, Any]:
    terms = each.certificate.snapshot["terms"]
    return {"row": each.certificate, "passes": each.passes, "words": terms["transfer_words"]}


def sold(request: Any, vehicle: Vehicle, form: SaleForm) -> bool:
    """Whether it was kept; the new holder is added only with the sale."""
    known = str(form.cleaned_data.get("known_party") or "")
    party = Party.objects.filter(pk=known).first() if known.isdecimal() else None
    actor = actor_of(request)
    party = party or jobs.add_party(**form.party_values(), actor=actor, now=request.now)
    try:
        transfer_vehicle(vehicle=vehicle, sale=sale_of(form, party), actor=actor, now=request.now)
    except (refusals.CertificateRefusal, NothingToCertify) as refusal:
        form.add_error(None, refusal_words(refusal))
        return False
    tell(request, _("Kept: the vehicle has a new holder, and its certificates say what holds now."))
    return True


def sale_of(form: SaleForm, party: Party) -> Sale:
    said = form.cleaned_data
    return Sale(party, said["on"], said["agreed"], said["odometer"], said["why"])


def refusal_words(refusal: Exception) -> str:
    words: dict[type[Exception], str] = {
        refusals.ConsentNeeded: _("Ask the new holder first, and tick that it was agreed."),
        refusals.SameHolder: _("The certificate is made to this person already."),
        refusals.DayOutOfOrder: _("The day lies after the handover and not after today."),
        refusals.NothingToTransfer: _("No certificate of this vehicle is in force."),
        refusals.NotInForce: _("Somebody else changed a certificate just now. Look at it and try again."),
    }
    return words.get(
        type(refusal), _("A new edition cannot be issued as the record stands; see the job and the plan.")
    )
