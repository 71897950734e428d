"""The holder's own page and what it does: a time, another time, calling it off, calendar, papers."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopwarranty.inspections.wall_clock import WallTimeProblem
from shopwarranty.jobs.models import HolderLink
from shopwarranty.shops import stored_bytes
from shopwarranty.shops.history import Actor
from shopwarranty.warranty.models import Certificate
from shopwarranty.warranty.telling import file_name
from shopwarranty.warranty.views import pdf_response
from shopwarranty.web import formats
from shopwarranty.web.notices import tell

from .. import actions, invitation, telling
from ..actions.bookings import WANTS_A_TIME
from ..actions.earlier import ask_for_earlier, no_longer_earlier
from ..actions.refusals import BookingOver, CheckRefusal, SlotNotOffered
from ..choosing_a_time import load_choice, slot_named
from ..models import Booking, Check
from ..views.days import day_asked
from .door import for_holder, shown
from .page import checks_of, load_page, papers_of, standing_booking
from .reminders import resume_reminders, stop_reminders
from .words import refusal_words

CALENDAR_NAME = "appointment.ics"


def holder_of(link: HolderLink) -> Actor:
    """The history says that it was the holder, not who that is."""
    return Actor(who=_("the holder"))


def today_of(link: HolderLink, request: Any) -> Any:
    return request.now.astimezone(link.shop.zone).date()


@require_GET
@for_holder
def holder(request: Any, link: HolderLink, token: str) -> HttpResponse:
    page = load_page(link, request.now, today_of(link, request))
    return shown(request, link, token, "page.html", page=page)


@require_http_methods(["GET", "POST"])
@for_holder
def holder_time(request: Any, link: HolderLink, token: str, pk: int) -> HttpResponse:
    """Free times by day; one press books or moves."""
    check = wanted_check(link, pk)
    booking = standing_booking(check)
    if request.method == "POST":
        try:
            made = take_time(request, link, check, booking)
        except (CheckRefusal, WallTimeProblem) as refusal:
            tell(request, refusal_words(refusal), level=messages.ERROR)
        else:
            say_booked(request, link, made)
            return redirect("holder", token)
    choice = load_choice(
        link.shop,
        check,
        now=request.now,
        today=today_of(link, request),
        first=day_asked(request),
        but=booking,
    )
    return shown(request, link, token, "time.html", check=check, booking=booking, choice=choice)


def wanted_check(link: HolderLink, pk: int) -> Check:
    return get_object_or_404(checks_of(link).filter(state__in=WANTS_A_TIME), pk=pk)


def take_time(request: Any, link: HolderLink, check: Check, booking: Booking | None) -> Booking:
    """Raises what the actions raise; a time that has begun is no longer the holder's to move."""
    try:
        slot = slot_named(link.shop, check, request.POST.get("slot", ""))
    except WallTimeProblem:
        raise
    except ValueError:
        raise SlotNotOffered from None
    who = {"actor": holder_of(link), "now": request.now, "by_holder": True}
    if booking is None:
        return actions.book_check(check=check, slot=slot, **who)
    must_be_to_come(booking, request)
    return actions.move_booking(booking=booking, slot=slot, **who)


def must_be_to_come(booking: Booking, request: Any) -> None:
    if booking.starts_at <= request.now:
        raise BookingOver


def when(booking: Booking, link: HolderLink) -> dict[str, str]:
    return {
        "day": formats.with_weekday(booking.starts_at, link.shop),
        "time": formats.clock(booking.starts_at, link.shop),
    }


def say_booked(request: Any, link: HolderLink, booking: Booking) -> None:
    written_to = telling.whom_to_tell(booking)
    if telling.can_be_written_to(written_to):
        tell(
            request,
            _("Booked: %(day)s, %(time)s. A mail with a calendar entry is on its way.") % when(booking, link),
        )
    else:
        tell(
            request,
            _("Booked: %(day)s, %(time)s. Note it down: we have no mail address for it.")
            % when(booking, link),
        )


@require_http_methods(["GET", "POST"])
@for_holder
def holder_cancel(request: Any, link: HolderLink, token: str, pk: int) -> HttpResponse:
    booking = standing_booking(wanted_check(link, pk))
    if booking is None:
        return redirect("holder", token)
    if request.method == "POST":
        try:
            must_be_to_come(booking, request)
            actions.cancel_booking(booking=booking, by_holder=True, actor=holder_of(link), now=request.now)
        except CheckRefusal as refusal:
            tell(request, refusal_words(refusal), level=messages.ERROR)
        else:
            tell(request, _("Called off. Your warranty is as before, and you can pick another time."))
        return redirect("holder", token)
    return shown(request, link, token, "cancel.html", booking=booking)


@require_POST
@for_holder
def holder_sooner(request: Any, link: HolderLink, token: str, pk: int) -> HttpResponse:
    """Onto the waiting list, or off it; the appointment stays either way."""
    check = wanted_check(link, pk)
    try:
        if request.POST.get("act") == "no":
            no_longer_earlier(check=check, actor=holder_of(link), now=request.now)
            tell(request, _("Good: it stays as it is."))
        else:
            ask_for_earlier(check=check, actor=holder_of(link), now=request.now)
            tell(request, _("Noted. Your appointment stays until you take another time."))
    except CheckRefusal as refusal:
        tell(request, refusal_words(refusal), level=messages.ERROR)
    return redirect("holder", token)


@require_GET
@for_holder
def holder_calendar(request: Any, link: HolderLink, token: str, pk: int) -> HttpResponse:
    """The appointment as a file. A shop without a mail address has no organizer to name, so there is none."""
    booking = standing_booking(wanted_check(link, pk))
    if booking is None:
        raise Http404
    words = telling.calendar_words(booking)
    appointment = telling.appointment_of(booking, None, words, request.now)
    method = invitation.Method.PUBLISH if appointment.organizer else None
    content_type = invitation.content_type(method)
    response = HttpResponse(invitation.entry(appointment), content_type=content_type)
    response["Content-Disposition"] = f'attachment; filename="{CALENDAR_NAME}"'
    return response


@require_GET
@for_holder
def holder_certificate(request: Any, link: HolderLink, token: str, pk: int) -> HttpResponse:
    """The stored bytes of a certificate made out to this holder."""
    papers = papers_of(link, today_of(link, request))
    row = next((paper.certificate for paper in papers if paper.opens and paper.certificate.pk == pk), None)
    if row is None:
        raise Http404
    return stored_certificate(request, row, token)


def stored_certificate(request: Any, row: Certificate, token: str) -> HttpResponse:
    try:
        content = stored_bytes.read(row.pdf_sha256)
    except stored_bytes.DamagedFile:
        tell(request, _("The stored file cannot be read. Ask the shop for a copy."), level=messages.ERROR)
        return redirect("holder", token)
    return pdf_response(content, file_name(row), download="download" in request.GET)


@require_http_methods(["GET", "POST"])
@for_holder
def holder_reminders(request: Any, link: HolderLink, token: str) -> HttpResponse:
    """A press changes it, opening the page does not: mail scanners open every address."""
    if request.method == "POST":
        act = resume_reminders if request.POST.get("act") == "resume" else stop_reminders
        act(party=link.party, actor=holder_of(link), now=request.now)
        stopped = link.party.reminders_stopped_at is not None
        tell(request, _("Reminders have stopped.") if stopped else _("Reminders come again."))
        return redirect("holder", token)
    return shown(request, link, token, "reminders.html", back=reverse("holder", args=[token]))
