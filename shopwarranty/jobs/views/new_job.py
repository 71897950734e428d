"""A new job in three short steps: find the vehicle or add it, then method, film and panels."""

from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from shopwarranty.shops.access import ANYONE, actor_of, allow
from shopwarranty.trade.catalogue import USUAL_FRONT
from shopwarranty.web.notices import tell

from .. import actions
from ..forms.film import FilmForm
from ..forms.opening import StartJobForm
from ..forms.vehicles import NewVehicleForm
from ..models import Holding, Job, Party, Plate, Vehicle
from ..plates import searched_form
from ..shop_catalogue import ShopCatalogue
from .jobs_list import name_of_holder
from .rows import the_vehicle

AT_MOST = 20


@require_GET
@allow(ANYONE)
def new_job(request: Any) -> HttpResponse:
    """Step 1: which vehicle. Whatever was typed goes along to the next step."""
    words = request.GET.get("q", "").strip()
    found = list(vehicles_found(words)) if words else []
    recent = [] if words else list(Vehicle.objects.with_plate_and_holder()[:6])
    context = {"q": words, "found": found, "recent": recent, "section": "jobs"}
    return render(request, "jobs/new_job.html", context)


def vehicles_found(words: str) -> Any:
    """By any plate it ever had, VIN or its end, or a name; old plates come with their dates."""
    compact = searched_form(words)
    rows = Vehicle.objects.with_plate_and_holder().filter(merged_into__isnull=True)
    found = rows.filter(pk__in=name_of_holder(words))
    if compact:
        plates = Plate.objects.filter(searched__startswith=compact).values("vehicle")
        found = found | rows.filter(pk__in=plates) | rows.filter(vin__startswith=compact)
        found = found | rows.filter(vin__endswith=compact)
    return found.prefetch_related("plates").distinct()[:AT_MOST]


@require_http_methods(["GET", "POST"])
@allow(ANYONE)
def new_vehicle(request: Any) -> HttpResponse:
    """Step 2: a vehicle not recorded yet, with its holder in the same go."""
    guess = first_guess(request.GET.get("q", ""))
    form = NewVehicleForm(request.POST or None, shop=request.shop, initial=guess)
    if form.is_valid():
        vehicle = add_with_holder(request, form)
        if form.doubtful:
            tell(request, check_digit_words(), level=messages.WARNING)
        return redirect("start-job", request.shop.slug, vehicle.pk)
    return render(request, "jobs/new_vehicle.html", {"form": form, "section": "jobs"})


def check_digit_words() -> str:
    """Told after saving: a doubtful VIN is kept as typed."""
    return _(
        "Saved. The check digit of this VIN does not agree: read it once more. "
        "VINs from outside North America need none."
    )


def first_guess(words: str) -> dict[str, str]:
    """What was searched for is most likely a VIN when it is long, else a plate."""
    compact = searched_form(words)
    if not compact:
        return {}
    return {"vin": compact} if len(compact) >= 11 else {"plate": words.upper()}


@transaction.atomic
def add_with_holder(request: Any, form: NewVehicleForm) -> Vehicle:
    who: dict[str, Any] = {"actor": actor_of(request), "now": request.now}
    today = request.today
    vehicle = actions.add_vehicle(**form.values(), **who)
    if form.cleaned_data["plate"]:
        moved = bool(form.data.get("plate_moved"))
        plate = form.cleaned_data["plate"]
        actions.set_plate(vehicle=vehicle, text=plate, since=today, ends_elsewhere=moved, **who)
    if form.cleaned_data["holder_name"]:
        party = chosen_party(form.cleaned_data.get("known_party"))
        party = party or actions.add_party(**form.party_values(), **who)
        actions.hold_vehicle(vehicle=vehicle, party=party, role=Holding.Role.HOLDER, since=today, **who)
    return vehicle


def chosen_party(known: str | None) -> Party | None:
    return Party.objects.filter(pk=known).first() if known and known.isdecimal() else None


@require_http_methods(["GET", "POST"])
@allow(ANYONE)
def start_job(request: Any, pk: int) -> HttpResponse:
    """Step 3: method, film, panels; the usual full front is one press."""
    vehicle, catalogue = the_vehicle(pk), ShopCatalogue(request.shop)
    front = [key for key in USUAL_FRONT if key in catalogue.panel_keys(vehicle.body_style)]
    form = StartJobForm(request.POST or None)
    asks_reason = False
    if form.is_valid():
        try:
            job = open_with_panels(request, vehicle, catalogue, form, front)
            return redirect(after_start(request, job))
        except actions.ReasonForFilm:
            asks_reason = True
            form.add_error("roll", _("Its lot is in quarantine. Say why it is used all the same."))
        except actions.InTheFuture:
            form.add_error("started_at", _("This is later than now."))
    context = {
        "form": form,
        "vehicle": vehicle,
        "front": front,
        "asks_reason": asks_reason,
        "section": "jobs",
    }
    return render(request, "jobs/start_job.html", context)


@transaction.atomic
def open_with_panels(
    request: Any, vehicle: Vehicle, catalogue: ShopCatalogue, form: StartJobForm, front: list[str]
) -> Job:
    actor, now = actor_of(request), request.now
    film = form.choice(actor=actor, now=now)
    job = actions.open_job(
        vehicle=vehicle,
        method_version=form.version(),
        no_method_reason=form.cleaned_data["no_method_reason"],
        started_at=form.cleaned_data["started_at"],
        uid=form.cleaned_data["uid"],
        actor=actor,
        now=now,
    )
    if request.POST.get("panels") == "front" and not job.panels.exists():
        lead = request.member if request.member.is_installer else None
        reason = request.POST.get("film_reason", "")
        started: dict[str, Any] = {
            "job": job,
            "panels": front,
            "catalogue": catalogue,
            "film": film,
            "lead": lead,
        }
        actions.start_panels(**started, reason=reason, actor=actor, now=now)
    return job


def after_start(request: Any, job: Job) -> str:
    """To the first panel, or to choosing the panels with the film picked already."""
    first = job.panels.first()
    if first:
        return reverse("panel", args=[request.shop.slug, first.pk])
    film = {name: request.POST[name] for name in FilmForm.base_fields if request.POST.get(name)}
    address = reverse("choose-panels", args=[request.shop.slug, job.pk])
    return f"{address}?{urlencode(film)}" if film else address
