"""Claims at the desk: the list, a claim, its papers."""

import uuid
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import override
from django.views.decorators.http import require_GET, require_http_methods

from shopwarranty.jobs.models import Vehicle
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.shops import stored_bytes
from shopwarranty.shops.access import ANYONE, actor_of, allow
from shopwarranty.warranty.views import pdf_response
from shopwarranty.web.notices import tell

from . import actions
from .case import case_of, items_of
from .case_file import case_file, steps_of
from .claim_list import SHOWN, SORTS, claims, with_chips
from .forms import OpenClaimForm
from .incoming import keep_photos, say_opened
from .letters import language_of
from .models import Claim, Letter
from .refusals import ClaimRefusal
from .stages import OPEN
from .words import refusal_words

PER_PAGE = 50


@require_GET
@allow(ANYONE)
def claim_list(request: Any) -> HttpResponse:
    words, shown, sort = (request.GET.get(name, "") for name in ("q", "show", "sort"))
    rows = claims(words=words, shown=shown, sort=sort, today=request.today)
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    with_chips(page.object_list, request.today)
    open_ones = Claim.objects.filter(state__in=OPEN)
    context = {
        "page": page,
        "words": words,
        "shown": shown,
        "sort": sort or "due",
        "choices": SHOWN,
        "sorts": SORTS,
        "open": open_ones.count(),
        "overdue": open_ones.filter(due_on__lt=request.today).count(),
    }
    return render(request, "claims/claims.html", context)


def the_claim(pk: int) -> Claim:
    rows = Claim.objects.select_related(
        "shop", "vehicle__shop", "claimant", "certificate", "visit", "opened_by"
    )
    return get_object_or_404(rows, pk=pk)


@require_GET
@allow(ANYONE)
def claim(request: Any, pk: int) -> HttpResponse:
    row = the_claim(pk)
    catalogue = ShopCatalogue(request.shop)
    items = items_of(row)
    with_chips([row], request.today)
    context = {
        "claim": row,
        "cases": [case_of(item, catalogue) for item in items],
        "steps": steps_of(row),
        "letters": list(row.letters.select_related("sent_by")),
        "is_refused": all_refused(items),
        "section": "claims",
    }
    return render(request, "claims/claim.html", context)


def all_refused(items: list[Any]) -> bool:
    latest = [list(item.decisions.all())[:1] for item in items]
    return all(rows and rows[0].answer == "refuse" for rows in latest)


@require_http_methods(["GET", "POST"])
@allow(ANYONE)
def new_claim(request: Any, pk: int) -> HttpResponse:
    """From the vehicle, a defect (`?defect=`) or a visit."""
    vehicle = get_object_or_404(Vehicle.objects.with_plate_and_holder().select_related("shop"), pk=pk)
    initial = {"channel": Claim.Channel.IN_PERSON, "first_reported_at": request.now, "uid": uuid.uuid4()}
    initial["defects"] = [request.GET.get("defect", "")]
    form = OpenClaimForm(
        request.POST or None, vehicle=vehicle, catalogue=ShopCatalogue(request.shop), initial=initial
    )
    if form.is_valid():
        opened = opened_from(request, vehicle, form)
        if opened is not None:
            keep_photos(request, opened)
            return redirect("claim", request.shop.slug, opened.pk)
    context = {"vehicle": vehicle, "form": form, "section": "claims"}
    return render(request, "claims/new_claim.html", context)


def opened_from(request: Any, vehicle: Vehicle, form: OpenClaimForm) -> Claim | None:
    said = form.cleaned_data
    names = ("channel", "first_reported_at", "words", "wanted", "is_safety", "uid")
    more = {name: said[name] for name in names}
    try:
        opened = actions.open_claim(
            vehicle=vehicle, items=form.reported(), **more, actor=actor_of(request), now=request.now
        )
    except ClaimRefusal as refusal:
        form.add_error(None, refusal_words(refusal))
        return None
    say_opened(request, opened)
    return opened


@require_GET
@allow(ANYONE)
def claim_case_file(request: Any, pk: int) -> HttpResponse:
    row = the_claim(pk)
    with override(language_of(row)):
        content = case_file(row)
    return pdf_response(content, f"{row.number}.pdf", download="download" in request.GET)


@require_GET
@allow(ANYONE)
def claim_letter(request: Any, pk: int) -> HttpResponse:
    """The stored bytes, exactly."""
    row = get_object_or_404(Letter.objects.exclude(pdf_sha256="").select_related("claim"), pk=pk)
    try:
        content = stored_bytes.read(row.pdf_sha256)
    except stored_bytes.DamagedFile:
        tell(
            request, _("The stored file is damaged or gone. Restore it from a backup."), level=messages.ERROR
        )
        return redirect("claim", request.shop.slug, row.claim_id)
    return pdf_response(content, f"{row.claim.number}-letter.pdf", download="download" in request.GET)
