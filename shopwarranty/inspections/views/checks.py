"""The list of checks, one check with everything about it, calls, and setting one aside."""

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext, pgettext_lazy
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopwarranty.shops.access import ANYONE, actor_of, allow
from shopwarranty.web.notices import tell

from .. import actions, selectors
from ..actions.refusals import CheckRefusal
from ..check_rows import row_of
from ..forms import AsideForm, CallForm
from ..models import Booking, Check, Visit
from ..visit_rows import visit_lines
from ..words import refusal_words

PER_PAGE = 50
FILTER_WORDS = {
    "call": gettext_lazy("To call"),
    "overdue": gettext_lazy("Overdue"),
    "week": gettext_lazy("Due this week"),
    "booked": gettext_lazy("Booked"),
    "due": gettext_lazy("All due"),
    "done": gettext_lazy("Done"),
    "missed": gettext_lazy("Missed"),
    "aside": pgettext_lazy("what became of a check", "Set aside"),
    "all": gettext_lazy("All"),
}


@require_GET
@allow(ANYONE)
def checks(request: Any) -> HttpResponse:
    chosen = request.GET.get("show", "call")
    chosen = chosen if chosen in selectors.FILTERS else "call"
    words = request.GET.get("q", "").strip()
    rows = selectors.matching(selectors.FILTERS[chosen](request.today, request.now), words)
    page = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
    calls = selectors.calls(request.today, request.now)
    late = selectors.overdue(request.today).count()
    context = {
        "page": page,
        "rows": [row_of(check, request.shop, request.today) for check in page],
        "chosen": chosen,
        "filters": FILTER_WORDS.items(),
        "words": words,
        "sentence": sentence(calls, late),
        "wait": Check.objects.filter(earlier_wanted=True).count(),
    }
    return render(request, "inspections/checks.html", context)


def sentence(calls: int, late: int) -> str:
    called = (
        ngettext("%(n)d to call", "%(n)d to call", calls) % {"n": calls} if calls else _("Nobody to call")
    )
    behind = ngettext("%(n)d check overdue", "%(n)d checks overdue", late) % {"n": late}
    return f"{called}, {behind if late else _('nothing overdue')}."


@require_GET
@allow(ANYONE)
def check(request: Any, pk: int) -> HttpResponse:
    row = get_object_or_404(selectors.checks_with_details(), pk=pk)
    bookings = list(row.bookings.select_related("booked_by").order_by("-booked_at", "-pk"))
    context = {
        "check": row,
        "row": row_of(row, request.shop, request.today),
        "bookings": bookings,
        "standing": next((one for one in bookings if one.state == Booking.State.BOOKED), None),
        "calls": list(row.attempts.select_related("member")[:PER_PAGE]),
        "visits": visit_lines(row.visits.exclude(state=Visit.State.DROPPED)),
        "section": "checks",
    }
    return render(request, "inspections/check.html", context)


@require_http_methods(["GET", "POST"])
@allow(ANYONE)
def note_call(request: Any, pk: int) -> HttpResponse:
    row = get_object_or_404(selectors.checks_with_details(), pk=pk)
    form = CallForm(request.POST or None)
    if form.is_valid():
        actions.note_contact(
            check=row,
            result=form.cleaned_data["result"],
            note=form.cleaned_data["note"],
            again_at=form.again_at(request.shop.zone),
            actor=actor_of(request),
            now=request.now,
        )
        tell(request, _("Noted."))
        return redirect("check", request.shop.slug, pk)
    context = {
        "check": row,
        "row": row_of(row, request.shop, request.today),
        "calls": list(row.attempts.select_related("member")[:PER_PAGE]),
        "form": form,
        "section": "checks",
    }
    return render(request, "inspections/call.html", context)


@require_http_methods(["GET", "POST"])
@allow(ANYONE)
def set_aside(request: Any, pk: int) -> HttpResponse:
    row = get_object_or_404(Check.objects.select_related("plan", "job__vehicle"), pk=pk)
    form = AsideForm(request.POST or None)
    if form.is_valid():
        try:
            set_aside_as_said(request, row, form)
        except CheckRefusal as refusal:
            tell(request, refusal_words(refusal), level=messages.ERROR)
        return redirect("check", request.shop.slug, pk)
    context = {
        "question": _("Set this check aside?"),
        "explain": f"{row.plan.name}, {row.job.vehicle}",
        "consequences": [
            _("Nobody is called or reminded about it any more; a time that is booked is called off."),
            _("What is covered, and for how long, is as before."),
        ],
        "form": form,
        "act": _("Set it aside"),
        "back_url": reverse("check", args=[request.shop.slug, pk]),
        "section": "checks",
    }
    return render(request, "web/confirm.html", context)


def set_aside_as_said(request: Any, row: Check, form: AsideForm) -> None:
    who: dict[str, Any] = {"why": form.why(), "actor": actor_of(request), "now": request.now}
    if form.cleaned_data["all_of_vehicle"]:
        count = actions.waive_all(vehicle=row.job.vehicle, **who)
        words = ngettext("One check set aside.", "%(n)d checks set aside.", count)
        tell(request, words % {"n": count})
        return
    actions.waive_check(check=row, **who)
    tell(request, _("Set aside."), undo_url=reverse("check-again", args=[request.shop.slug, row.pk]))


@require_POST
@allow(ANYONE)
def check_again(request: Any, pk: int) -> HttpResponse:
    row = get_object_or_404(Check.objects.all(), pk=pk)
    try:
        actions.take_up_again(check=row, actor=actor_of(request), now=request.now)
    except CheckRefusal as refusal:
        tell(request, refusal_words(refusal), level=messages.ERROR)
    else:
        tell(request, _("The check is due again. A time that was called off has to be booked anew."))
    return redirect("check", request.shop.slug, pk)
