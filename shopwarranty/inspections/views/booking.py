"""A time for a check: chosen with one press, moved, called off."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from shopwarranty.inspections.wall_clock import WallTimeProblem
from shopwarranty.shops.access import ANYONE, actor_of, allow
from shopwarranty.web import formats
from shopwarranty.web.notices import tell

from .. import actions, selectors, telling
from ..actions.refusals import CheckRefusal, SlotNotOffered
from ..check_rows import row_of
from ..choosing_a_time import load_choice, slot_named
from ..earlier import waiting_for_earlier
from ..forms import BeyondForm, CancelForm
from ..models import Booking
from ..words import refusal_words
from .days import day_asked


def own_path(request: Any, path: str) -> bool:
    return path.startswith(f"/s/{request.shop.slug}/")


def after(request: Any, check_pk: int) -> HttpResponse:
    """Back to where one came from, if that is a page of this shop."""
    wanted = request.POST.get("next", "")
    return redirect(wanted) if own_path(request, wanted) else redirect("check", request.shop.slug, check_pk)


@require_http_methods(["GET", "POST"])
@allow(ANYONE)
def book_check(request: Any, pk: int) -> HttpResponse:
    check = get_object_or_404(selectors.checks_with_details(), pk=pk)
    standing = check.bookings.filter(state=Booking.State.BOOKED).first()
    if standing is not None and request.method == "GET":
        return redirect("move-booking", request.shop.slug, standing.pk)
    return choose_time(request, check, None)


@require_http_methods(["GET", "POST"])
@allow(ANYONE)
def move_booking(request: Any, pk: int) -> HttpResponse:
    booking = get_object_or_404(Booking.objects.select_related("check_due__plan", "shop"), pk=pk)
    check = selectors.checks_with_details().get(pk=booking.check_due_id)
    if booking.state != Booking.State.BOOKED:
        return redirect("check", request.shop.slug, check.pk)
    return choose_time(request, check, booking)


def choose_time(request: Any, check: Any, booking: Booking | None) -> HttpResponse:
    """Offered places as buttons, and a form for any other time with a reason."""
    beyond = BeyondForm(request.POST if "why" in request.POST else None)
    if request.method == "POST":
        try:
            made = take_time(request, check, booking, beyond)
        except (CheckRefusal, WallTimeProblem) as refusal:
            tell(request, refusal_words(refusal), level=messages.ERROR)
        else:
            if made is not None:
                say_booked(request, made)
                return after(request, check.pk)
    choice = load_choice(
        request.shop, check, now=request.now, today=request.today, first=day_asked(request), but=booking
    )
    row = row_of(check, request.shop, request.today)
    context = {"check": check, "row": row, "booking": booking, "choice": choice, "beyond": beyond}
    return render(request, "inspections/book.html", {**context, "section": "checks"})


def take_time(request: Any, check: Any, booking: Booking | None, beyond: BeyondForm) -> Booking | None:
    """None when the form has to be put right. Raises what the actions raise."""
    who: dict[str, Any] = {"actor": actor_of(request), "now": request.now}
    if "slot" in request.POST:
        try:
            slot = slot_named(request.shop, check, request.POST["slot"])
        except WallTimeProblem:
            raise
        except ValueError:
            raise SlotNotOffered from None
        if booking is None:
            return actions.book_check(check=check, slot=slot, **who)
        return actions.move_booking(booking=booking, slot=slot, **who)
    if not beyond.is_valid():
        return None
    asked = {"starts_local": beyond.starts_local(), "why": beyond.cleaned_data["why"], **who}
    if booking is None:
        return actions.book_beyond(check=check, **asked)
    return actions.move_beyond(booking=booking, **asked)


def say_booked(request: Any, booking: Booking) -> None:
    shop, party = request.shop, telling.whom_to_tell(booking)
    words = {
        "day": formats.with_weekday(booking.starts_at, shop),
        "time": formats.clock(booking.starts_at, shop),
        "who": party.name if party else "",
    }
    if telling.can_be_written_to(party):
        tell(request, _("Booked for %(day)s, %(time)s. %(who)s gets a mail with a calendar entry.") % words)
    else:
        said = _("Booked for %(day)s, %(time)s. There is no mail address that works: say it by telephone.")
        tell(request, said % words, level=messages.WARNING)


@require_http_methods(["GET", "POST"])
@allow(ANYONE)
def cancel_booking(request: Any, pk: int) -> HttpResponse:
    booking = get_object_or_404(Booking.objects.select_related("check_due__plan", "check_due__job"), pk=pk)
    form = CancelForm(request.POST or None)
    if form.is_valid():
        try:
            actions.cancel_booking(
                booking=booking,
                by_holder=form.cleaned_data["by"] == "holder",
                why=form.cleaned_data["why"],
                actor=actor_of(request),
                now=request.now,
            )
        except CheckRefusal as refusal:
            tell(request, refusal_words(refusal), level=messages.ERROR)
        else:
            tell(request, _("Called off. The check stays due and can get another time."))
            if somebody_waits(request):
                tell(request, _("A place opened, and somebody asked for an earlier time."))
                return redirect("earlier", request.shop.slug)
        return redirect("check", request.shop.slug, booking.check_due_id)
    return render(request, "web/confirm.html", cancel_words(request, booking, form))


def somebody_waits(request: Any) -> bool:
    rows = waiting_for_earlier(request.shop, now=request.now, today=request.today)
    return any(row.place is not None for row in rows)


def cancel_words(request: Any, booking: Booking, form: CancelForm) -> dict[str, Any]:
    shop = request.shop
    when = {
        "day": formats.with_weekday(booking.starts_at, shop),
        "time": formats.clock(booking.starts_at, shop),
    }
    return {
        "question": _("Call off %(day)s, %(time)s?") % when,
        "consequences": [
            _("The place is free again."),
            _("The holder, once told of it, gets a mail that also takes it out of their calendar."),
            _("The check stays due, and the warranty is as before."),
        ],
        "form": form,
        "act": _("Call it off"),
        "back_url": reverse("check", args=[shop.slug, booking.check_due_id]),
        "section": "checks",
    }


@require_POST
@allow(ANYONE)
def booking_not_kept(request: Any, pk: int) -> HttpResponse:
    booking = get_object_or_404(Booking.objects.all(), pk=pk)
    try:
        actions.mark_not_kept(booking=booking, actor=actor_of(request), now=request.now)
    except CheckRefusal as refusal:
        tell(request, refusal_words(refusal), level=messages.ERROR)
    else:
        tell(request, _("Noted that nobody came. The check stays due; the warranty is as before."))
    return after(request, booking.check_due_id)
