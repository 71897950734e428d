"""Defects as a list, one defect, what was done about it, and the story of a place."""

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopwarranty.inspections.models import Visit
from shopwarranty.jobs import photos
from shopwarranty.jobs.actions.refusals import JobRefusal
from shopwarranty.jobs.clean_photo import PhotoRefused
from shopwarranty.jobs.models import Photo, Place
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.shops.access import ANYONE, actor_of, allow
from shopwarranty.web.notices import tell

from .. import actions, defect_page, place_page, selectors
from ..actions.refusals import DefectRefusal
from ..defect_forms import CauseForm, RemedyForm
from ..models import Defect
from ..words import refusal_words

PER_PAGE = 50


@require_GET
@allow(ANYONE)
def defects(request: Any) -> HttpResponse:
    asked = {name: request.GET.get(name, "").strip() for name in ("kind", "panel", "words")}
    state = request.GET.get("state", Defect.State.OPEN)
    catalogue = ShopCatalogue(request.shop)
    page = Paginator(selectors.chosen(state=state, **asked), PER_PAGE).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "rows": [selectors.row_of(row, catalogue) for row in page],
        "state": state,
        "asked": asked,
        "states": Defect.State.choices,
        "kinds": selectors.kinds_found(),
        "panels": selectors.panels_found(catalogue),
        "sentence": selectors.sentence(Defect.objects.filter(state=Defect.State.OPEN).count()),
        "section": "defects",
    }
    return render(request, "defects/defects.html", context)


def defect_or_404(pk: int) -> Any:
    return get_object_or_404(selectors.defects_with_details().select_related("recurrence_of"), pk=pk)


@require_GET
@allow(ANYONE)
def defect(request: Any, pk: int) -> HttpResponse:
    row = defect_or_404(pk)
    form = CauseForm(initial={"cause": row.cause, "sure": row.cause_sure})
    return show(request, row, form)


def show(request: Any, row: Any, form: CauseForm) -> HttpResponse:
    catalogue = ShopCatalogue(request.shop)
    context = {
        "defect": row,
        "row": selectors.row_of(row, catalogue),
        "job": row.place.piece.panel_work.job,
        "seen": defect_page.seen_lines(row, request.shop),
        "trend": defect_page.trend_words(row, request.shop),
        "record": defect_page.load_place_record(row.place, request.shop, catalogue),
        "remedies": defect_page.remedies_of(row),
        "photos": defect_page.photos_of(row),
        "cause": defect_page.cause_words(row),
        "recurrences": list(row.recurrences.order_by("pk")),
        "look_open": row.state == Defect.State.REMEDIED
        and row.sightings.filter(finding__visit__state=Visit.State.OPEN).exists(),
        "form": form,
        "section": "defects",
    }
    return render(request, "defects/defect.html", context)


@require_POST
@allow(ANYONE)
def judge_cause(request: Any, pk: int) -> HttpResponse:
    row, form = defect_or_404(pk), CauseForm(request.POST)
    if not form.is_valid():
        return show(request, row, form)
    actions.judge_cause(defect=row, **form.cleaned_data, actor=actor_of(request), now=request.now)
    tell(request, _("Kept. It changes no figure: what was seen counts."))
    return redirect("defect", request.shop.slug, pk)


@require_POST
@allow(ANYONE)
def verify(request: Any, pk: int) -> HttpResponse:
    row, found = defect_or_404(pk), request.POST.get("found") == "yes"
    if request.POST.get("found") == "again":
        return wrong_again(request, row)
    try:
        actions.verify(defect=row, found_again=found, actor=actor_of(request), now=request.now)
    except DefectRefusal as refusal:
        tell(request, refusal_words(refusal), level=messages.ERROR)
    else:
        kept = _("Verified: somebody found it again.")
        gone = _(
            "Kept as not found again: it stays listed and is in no rate. A second report opens it again."
        )
        tell(request, kept if found else gone)
    return redirect("defect", request.shop.slug, pk)


def wrong_again(request: Any, row: Any) -> HttpResponse:
    """Within the look that found it. As bad as before, until the panel's page says otherwise."""
    last = row.sightings.order_by("-pk").first()
    try:
        new = actions.fails_again(
            defect=row, severity=last.severity if last else 2, actor=actor_of(request), now=request.now
        )
    except DefectRefusal as refusal:
        tell(request, refusal_words(refusal), level=messages.ERROR)
        return redirect("defect", request.shop.slug, row.pk)
    tell(request, _("Kept as a new defect beside the one that was put right."))
    return redirect("defect", request.shop.slug, new.pk)


@require_http_methods(["GET", "POST"])
@allow(ANYONE)
def record_remedy(request: Any, pk: int) -> HttpResponse:
    row = defect_or_404(pk)
    form = RemedyForm(request.POST or None, shop=request.shop, initial={"done_on": request.today})
    if form.is_valid():
        try:
            actions.record_remedy(
                defect=row,
                kind=form.cleaned_data["kind"],
                done_on=form.cleaned_data["done_on"],
                how=form.how(),
                actor=actor_of(request),
                now=request.now,
            )
        except (DefectRefusal, JobRefusal) as refusal:
            form.add_error(None, refusal_words(refusal))
        else:
            tell(request, _("Kept."))
            return redirect("defect", request.shop.slug, pk)
    context = {"defect": row, "row": selectors.row_of(row, ShopCatalogue(request.shop)), "form": form}
    return render(request, "defects/remedy.html", {**context, "section": "defects"})


@require_POST
@allow(ANYONE)
def add_photos(request: Any, pk: int) -> HttpResponse:
    """Several at once; each that cannot be kept is named."""
    row = defect_or_404(pk)
    for file in request.FILES.getlist("photos"):
        try:
            photo = photos.add_photo(
                sent=file.read(),
                subject=photos.Subject.of_place(row.place),
                stage=Photo.Stage.CHECK if row.state == Defect.State.OPEN else Photo.Stage.REMEDY,
                actor=actor_of(request),
                now=request.now,
            )
        except PhotoRefused as refused:
            tell(request, photos.refusal_words(refused, file.name), level=messages.ERROR)
        else:
            actions.add_photo(defect=row, photo=photo)
    return redirect("defect", request.shop.slug, pk)


@require_GET
@allow(ANYONE)
def place(request: Any, pk: int) -> HttpResponse:
    rows = Place.objects.select_related("piece__panel_work__job__vehicle", "piece__product")
    row = get_object_or_404(rows, pk=pk)
    work, catalogue = row.piece.panel_work, ShopCatalogue(request.shop)
    body = work.job.vehicle.body_style
    lives = place_page.life_lines(row, request.shop)
    context = {
        "place": row,
        "job": work.job,
        "name": catalogue.place_name(body, work.panel, row.key, row.name),
        "panel": catalogue.panel_name(body, work.panel),
        "lives": lives,
        "looks": place_page.look_lines(row, request.shop, lives[0].starts_on if lives else None),
        "record": defect_page.load_place_record(row, request.shop, catalogue),
        "defects": place_page.defects_of(row),
        "section": "defects",
    }
    return render(request, "defects/place.html", context)
