"""The page of a lot: where it went, what may be of it, and quarantine."""

from typing import Any

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from shopwarranty.films import actions
from shopwarranty.films.forms import ReasonForm
from shopwarranty.films.models import Lot
from shopwarranty.shops.access import ANYONE, actor_of, allow
from shopwarranty.web.notices import tell

from . import trace
from .panel_names import with_panel_names


def the_lot(pk: int) -> Lot:
    rows = Lot.objects.select_related("product", "quarantined_by").prefetch_related("rolls")
    return get_object_or_404(rows, pk=pk)


@require_GET
@allow(ANYONE)
def lot(request: Any, pk: int) -> HttpResponse:
    row = the_lot(pk)
    possible = request.GET.get("show") == "possible"
    pieces = trace.possibly_of_lot(row) if possible else trace.pieces_of_lot(row)
    page = Paginator(pieces, 50).get_page(request.GET.get("page"))
    with_panel_names(page.object_list, request.shop)
    context = {
        "lot": row,
        "use": trace.use_of_lot(row),
        "page": page,
        "possible": possible,
        "section": "films",
    }
    return render(request, "desk/lot.html", context)


@require_http_methods(["GET", "POST"])
@allow(ANYONE)
def quarantine(request: Any, pk: int) -> HttpResponse:
    """Asks why, both for holding a lot back and for releasing it."""
    row = the_lot(pk)
    held = row.quarantined_at is not None
    form = ReasonForm(request.POST or None)
    if form.is_valid():
        act = actions.lift_quarantine if held else actions.quarantine
        act(lot=row, reason=form.cleaned_data["reason"], actor=actor_of(request), now=request.now)
        tell(request, _("Released.") if held else _("Held back. Whoever picks this lot is asked first."))
        return redirect("lot", request.shop.slug, pk)
    question = _("Release lot %(lot)s?") if held else _("Hold back lot %(lot)s?")
    context = {
        "question": question % {"lot": row},
        "explain": _(
            "Nobody outside the shop is told automatically. You find whom to call on the lot's page."
        ),
        "form": form,
        "act": _("Release it") if held else _("Hold it back"),
        "back_url": request.path.removesuffix("quarantine/"),
        "section": "films",
    }
    return render(request, "web/confirm.html", context)
