"""Pages of the film room: what is in stock, each film and roll, the cut planner."""

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Count, Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopwarranty.shops.access import ANYONE, actor_of, allow
from shopwarranty.trade.catalogue import Size
from shopwarranty.trade.cut_plan import Allowance, piece_for, plan
from shopwarranty.web.notices import tell

from . import actions
from .forms import ChangeProductForm, CutPlanForm, MeasureForm, ProductForm, RollForm, TakeCutForm
from .models import Cut, FilmProduct, Roll
from .qr import label_svg


@require_GET
@allow(ANYONE)
def films(request: Any) -> HttpResponse:
    """The stock: rolls with what is left, off-cuts, and the films."""
    words, finished = request.GET.get("q", "").strip(), request.GET.get("show") == "finished"
    rolls = Roll.objects.select_related("product", "lot").with_left()
    rolls = rolls.filter(finished_on__isnull=not finished)
    if words:
        rolls = rolls.filter(
            Q(label__icontains=words) | Q(lot__number__icontains=words) | Q(product__name__icontains=words)
        )
    page = Paginator(rolls.order_by("product__maker", "product__name", "label"), 50).get_page(
        request.GET.get("page")
    )
    products = FilmProduct.objects.annotate(
        rolls_in_stock=Count("rolls", filter=Q(rolls__finished_on__isnull=True))
    )
    offcuts = Cut.objects.filter(kind=Cut.Kind.OFFCUT, used_up_at__isnull=True).select_related(
        "roll__product"
    )[:50]
    context = {"page": page, "products": products, "offcuts": offcuts, "words": words, "finished": finished}
    return render(request, "films/films.html", context)


@require_http_methods(["GET", "POST"])
@allow(ANYONE)
def new_product(request: Any) -> HttpResponse:
    form = ProductForm(request.POST or None, shop=request.shop)
    if form.is_valid():
        try:
            actions.add_product(values=form.values(), actor=actor_of(request), now=request.now)
        except actions.AlreadyThere:
            form.add_error("name", _("This film is in the list already."))
        else:
            tell(request, _("Added."))
            return redirect("films", request.shop.slug)
    return render(request, "films/product.html", {"form": form, "section": "films"})


@require_http_methods(["GET", "POST"])
@allow(ANYONE)
def product(request: Any, pk: int) -> HttpResponse:
    row = get_object_or_404(FilmProduct.objects.all(), pk=pk)
    initial = {field: getattr(row, field) for field in ProductForm.base_fields}
    form = ChangeProductForm(request.POST or None, shop=request.shop, initial=initial)
    if form.is_valid():
        actions.change_product(product=row, values=form.values(), actor=actor_of(request), now=request.now)
        tell(request, _("Saved. Certificates already issued stay as they are."))
        return redirect("films", request.shop.slug)
    return render(request, "films/product.html", {"form": form, "product": row, "section": "films"})


@require_http_methods(["GET", "POST"])
@allow(ANYONE)
def new_roll(request: Any) -> HttpResponse:
    initial = {"received_on": request.today, "product": request.GET.get("film")}
    form = RollForm(request.POST or None, shop=request.shop, initial=initial)
    if form.is_valid():
        try:
            roll = actions.add_roll(**form.values(), actor=actor_of(request), now=request.now)
        except actions.AlreadyThere:
            form.add_error("label", _("Another roll has this label. Choose one that is not used yet."))
        else:
            tell(request, _("Roll %(label)s is in stock.") % {"label": roll.label})
            return redirect("roll", request.shop.slug, roll.pk)
    return render(request, "films/new_roll.html", {"form": form, "section": "films"})


def the_roll(pk: int) -> Any:
    return get_object_or_404(Roll.objects.select_related("product", "lot").with_left(), pk=pk)


@require_GET
@allow(ANYONE)
def roll(request: Any, pk: int) -> HttpResponse:
    row = the_roll(pk)
    page = Paginator(row.cuts.select_related("member"), 50).get_page(request.GET.get("page"))
    context = {"roll": row, "page": page, "measure": MeasureForm(shop=request.shop), "section": "films"}
    return render(request, "films/roll.html", context)


@require_POST
@allow(ANYONE)
def measure(request: Any, pk: int) -> HttpResponse:
    row = the_roll(pk)
    form = MeasureForm(request.POST, shop=request.shop)
    if not form.is_valid():
        page = Paginator(row.cuts.select_related("member"), 50).get_page(1)
        return render(
            request, "films/roll.html", {"roll": row, "page": page, "measure": form, "section": "films"}
        )
    typed, why = form.cleaned_data["left_mm"], form.cleaned_data["why"]
    actions.measure_roll(roll=row, left_mm=typed.stored, why=why, actor=actor_of(request), now=request.now)
    tell(request, _("What you measured counts from now on."))
    return redirect("roll", request.shop.slug, pk)


@require_POST
@allow(ANYONE)
def finish(request: Any, pk: int) -> HttpResponse:
    actions.finish_roll(roll=the_roll(pk), actor=actor_of(request), now=request.now)
    tell(request, _("The roll is finished and no longer offered."))
    return redirect("films", request.shop.slug)


@require_GET
@allow(ANYONE)
def label(request: Any, pk: int) -> HttpResponse:
    """For the roll: its label large, lot, and a QR code that leads back here."""
    row = the_roll(pk)
    address = request.build_absolute_uri(request.path.removesuffix("label/"))
    return render(request, "films/label.html", {"roll": row, "code": label_svg(address)})


@require_http_methods(["GET", "POST"])
@allow(ANYONE)
def cut_planner(request: Any, pk: int) -> HttpResponse:
    """Sizes in, both ways round out; one press takes the cut off the roll."""
    row = the_roll(pk)
    allowance = request.shop.cutting_allowance_mm
    start = {"allowance_along_mm": allowance, "allowance_across_mm": allowance}
    given = request.POST or request.GET
    form = CutPlanForm(given if "along_mm" in given else None, shop=request.shop, initial=start)
    ready = form.is_valid() and row.width_mm is not None
    found = planned(form, row) if ready else None
    if request.method == "POST" and found:
        return take(request, row, form, found)
    context = {"roll": row, "form": form, "plan": found, "take": TakeCutForm(), "section": "films"}
    return render(request, "films/cut_planner.html", context)


def planned(form: CutPlanForm, row: Any) -> Any:
    size = {name: typed.stored for name, typed in form.cleaned_data.items()}
    piece = piece_for(
        Size(size["along_mm"], size["across_mm"]),
        Allowance(size["allowance_along_mm"], size["allowance_across_mm"]),
    )
    return plan(piece, row.width_mm, max(row.left_mm or 0.0, 0.0))


def take(request: Any, row: Any, form: CutPlanForm, found: Any) -> HttpResponse:
    chosen = TakeCutForm(request.POST)
    chosen.is_valid()
    across = chosen.cleaned_data.get("long_side_across", False)
    way = next((cut for cut in found.cuts if cut.long_side_across == across), found.cuts[0])
    size = actions.CutSize(way.length_used_mm, way.across_roll_mm, way.length_used_mm, way.long_side_across)
    words = {name: chosen.cleaned_data.get(name, "") for name in ("note", "reason")}
    kind = chosen.cleaned_data.get("kind") or Cut.Kind.PIECE
    try:
        actions.take_cut(roll=row, kind=kind, size=size, actor=actor_of(request), now=request.now, **words)
    except actions.ReasonNeeded as asked:
        context = {
            "roll": row,
            "form": form,
            "plan": found,
            "take": chosen,
            "asked": asked.question,
            "way": way,
        }
        return render(request, "films/cut_planner.html", context | {"section": "films"})
    tell(request, _("Cut. The roll is shorter by that much."), level=messages.SUCCESS)
    return redirect("roll", request.shop.slug, row.pk)
