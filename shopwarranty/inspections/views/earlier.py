"""The waiting list: somebody wants to come sooner; a place opens; one press moves or offers."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_POST

from shopwarranty.shops.access import ANYONE, actor_of, allow
from shopwarranty.web.notices import tell

from .. import selectors
from ..actions import earlier as actions
from ..actions.refusals import CheckRefusal
from ..choosing_a_time import slot_named
from ..earlier import waiting_for_earlier
from ..models import Check
from ..words import refusal_words


@require_GET
@allow(ANYONE)
def earlier(request: Any) -> HttpResponse:
    rows = waiting_for_earlier(request.shop, now=request.now, today=request.today)
    free = sum(row.place is not None for row in rows)
    said = ngettext("One could come sooner now.", "%(n)d could come sooner now.", free) % {"n": free}
    context = {
        "rows": rows,
        "sentence": said if free else _("Nothing earlier is free just now."),
        "section": "checks",
    }
    return render(request, "inspections/earlier.html", context)


@require_POST
@allow(ANYONE)
def want_earlier(request: Any, pk: int) -> HttpResponse:
    """Puts the check on the waiting list, or takes it off."""
    check = get_object_or_404(Check.objects.all(), pk=pk)
    undo = reverse("want-earlier", args=[request.shop.slug, pk])
    try:
        if check.earlier_wanted:
            actions.no_longer_earlier(check=check, actor=actor_of(request), now=request.now)
            tell(request, _("No longer waiting for an earlier time."), undo_url=undo)
        else:
            actions.ask_for_earlier(check=check, actor=actor_of(request), now=request.now)
            tell(request, _("On the waiting list for an earlier time."), undo_url=undo)
    except CheckRefusal as refusal:
        tell(request, refusal_words(refusal), level=messages.ERROR)
    return redirect("check", request.shop.slug, pk)


@require_POST
@allow(ANYONE)
def offer_earlier(request: Any, pk: int) -> HttpResponse:
    """By mail, once for each time."""
    check = get_object_or_404(selectors.every_check(), pk=pk)
    if not selectors.wants_earlier().filter(pk=pk).exists():
        tell(request, _("Nobody waits for an earlier time there any more."), level=messages.WARNING)
        return redirect("earlier", request.shop.slug)
    try:
        slot = slot_named(request.shop, check, request.POST.get("slot", ""))
        message = actions.offer_earlier(check=check, slot=slot, now=request.now)
    except CheckRefusal as refusal:
        tell(request, refusal_words(refusal), level=messages.ERROR)
    except ValueError:
        tell(request, _("The shop does not offer that time. Choose another."), level=messages.ERROR)
    else:
        if message is None:
            tell(request, _("There is no way to write to them. Call instead."), level=messages.WARNING)
        else:
            tell(request, _("It is offered in writing. The same time is never offered to them twice."))
    return redirect("earlier", request.shop.slug)
