"""The shop's methods and its own technique fields; an owner writes them."""

from typing import Any

from django.db.models import Count, Prefetch
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopwarranty.shops.access import ANYONE, OWNER, actor_of, allow
from shopwarranty.trade.technique import BY_KEY, FieldKind, Unit
from shopwarranty.web.formats import short_length, temperature
from shopwarranty.web.notices import tell

from . import actions
from .method_forms import PARTS, MethodForm, ShopFieldForm
from .models import Method, MethodVersion, ShopField


@require_GET
@allow(ANYONE)
def methods(request: Any) -> HttpResponse:
    versions = MethodVersion.objects.annotate(used=Count("jobs")).order_by("-number")
    rows = Method.objects.prefetch_related(Prefetch("versions", versions))
    own = ShopField.objects.filter(retired_at__isnull=True)
    return render(request, "jobs/methods.html", {"methods": rows, "own_fields": own})


@require_GET
@allow(ANYONE)
def method_version(request: Any, pk: int) -> HttpResponse:
    """One version as a list: what is usual."""
    row = get_object_or_404(MethodVersion.objects.select_related("method", "written_by"), pk=pk)
    context = {"version": row, "parts": list(said_parts(row.values, request.shop)), "section": "methods"}
    return render(request, "jobs/method_version.html", context)


def said_parts(values: dict[str, Any], shop: Any) -> Any:
    own = {field.key: field.name for field in ShopField.objects.all()}
    for part, words in PARTS:
        lines = [
            (said_name(key, own), said_value(key, value, shop)) for key, value in values.get(part, {}).items()
        ]
        if lines:
            yield words, lines


def said_name(key: str, own: dict[str, str]) -> str:
    return str(capfirst(_(BY_KEY[key].words))) if key in BY_KEY else own.get(key, key)


def said_value(key: str, value: Any, shop: Any) -> str:
    """A method's value as people read it."""
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    field = BY_KEY.get(key)
    if field is None:
        return str(value)
    if field.kind is FieldKind.CHOICE:
        return next((_(choice.words) for choice in field.choices if choice.key == value), str(value))
    if field.unit is Unit.CELSIUS:
        return str(temperature(value, shop))
    return str(short_length(value, shop)) if field.unit is Unit.MM else f"{value:g}"


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def new_method(request: Any) -> HttpResponse:
    form = MethodForm(request.POST or None, shop=request.shop, values=actions.methods.USUAL_VALUES)
    if form.is_valid():
        try:
            given = {
                "name": form.cleaned_data["name"],
                "note": form.cleaned_data["note"],
                "values": form.said(),
            }
            version = actions.add_method(**given, actor=actor_of(request), now=request.now)
        except actions.NameTaken:
            form.add_error("name", _("There is a method of that name."))
        else:
            tell(request, _("Written. New jobs can follow it."))
            return redirect("method-version", request.shop.slug, version.pk)
    return render(request, "jobs/method_edit.html", {"form": form, "section": "methods"})


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def new_version(request: Any, pk: int) -> HttpResponse:
    """Starts from the newest version; the old one stays as it is."""
    method = get_object_or_404(Method.objects.all(), pk=pk)
    newest = method.versions.order_by("-number").first()
    values = newest.values if newest else {}
    form = MethodForm(request.POST or None, shop=request.shop, values=values, fixed_name=method.name)
    if form.is_valid():
        version = actions.write_method_version(
            method=method,
            values=form.said(),
            note=form.cleaned_data["note"],
            actor=actor_of(request),
            now=request.now,
        )
        tell(
            request, _("Version %(n)s is written. Jobs already recorded keep theirs.") % {"n": version.number}
        )
        return redirect("method-version", request.shop.slug, version.pk)
    return render(request, "jobs/method_edit.html", {"form": form, "method": method, "section": "methods"})


@require_POST
@allow(OWNER)
def method_retire(request: Any, pk: int) -> HttpResponse:
    """No longer offered, or offered again: the same address undoes it."""
    method = get_object_or_404(Method.objects.all(), pk=pk)
    retires = method.retired_at is None
    act = actions.retire_method if retires else actions.offer_method_again
    act(method=method, actor=actor_of(request), now=request.now)
    undo = reverse("method-retire", args=[request.shop.slug, pk]) if retires else ""
    tell(request, _("No longer offered for new jobs.") if retires else _("Offered again."), undo_url=undo)
    return redirect("methods", request.shop.slug)


@require_http_methods(["GET", "POST"])
@allow(OWNER)
def new_field(request: Any) -> HttpResponse:
    form = ShopFieldForm(request.POST or None)
    if form.is_valid():
        try:
            actions.add_shop_field(**form.cleaned_data, actor=actor_of(request), now=request.now)
        except actions.NameTaken:
            form.add_error("name", _("There is a field of that name."))
        else:
            tell(request, _("Added. It is asked from now on and becomes a factor in the review."))
            return redirect("methods", request.shop.slug)
    return render(request, "jobs/new_field.html", {"form": form, "section": "methods"})


@require_POST
@allow(OWNER)
def field_retire(request: Any, pk: int) -> HttpResponse:
    field = get_object_or_404(ShopField.objects.all(), pk=pk)
    actions.retire_shop_field(field=field, actor=actor_of(request), now=request.now)
    tell(request, _("Not asked any more. Recorded values stay."))
    return redirect("methods", request.shop.slug)
