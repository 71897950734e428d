"""The week: choose a check, then a free place."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from shopwarranty.shops.access import ANYONE, allow

from .. import selectors
from ..check_rows import row_of
from ..models import Booking
from ..week import load_week, span_words, week_sentence
from .days import day_asked


def kept_in_address(check: Any, booking: Booking | None) -> str:
    """Who is to get a place stays chosen while one goes through the weeks."""
    if booking is not None:
        return f"&move={booking.pk}"
    return f"&check={check.pk}" if check is not None else ""


@require_GET
@allow(ANYONE)
def week(request: Any) -> HttpResponse:
    booking, check = None, None
    if request.GET.get("move", "").isdecimal():
        rows = Booking.objects.filter(state=Booking.State.BOOKED)
        booking = get_object_or_404(rows, pk=request.GET["move"])
    wanted = str(booking.check_due_id) if booking else request.GET.get("check", "")
    if wanted.isdecimal():
        check = get_object_or_404(selectors.checks_with_details(), pk=wanted)
    day = day_asked(request) or request.today
    shown = load_week(request.shop, day, now=request.now, today=request.today, chosen=check, but=booking)
    context = {
        "week": shown,
        "span": span_words(shown, request.shop),
        "sentence": week_sentence(shown),
        "chosen": row_of(check, request.shop, request.today) if check else None,
        "moving": booking,
        "keep": kept_in_address(check, booking),
    }
    return render(request, "inspections/week.html", context)
