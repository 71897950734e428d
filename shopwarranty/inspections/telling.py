"""What the holder is told about a booking: confirmed, moved, called off, each with its calendar entry.

A message's key is the booking's UID, its sequence and what is said: the same fact is told at most once.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.template.loader import render_to_string
from django.utils.functional import Promise
from django.utils.translation import gettext, override
from django.utils.translation import gettext_lazy as _

from shopwarranty.jobs.models import Holding, Party
from shopwarranty.outbox.actions import Attachment, drop_waiting, put_message
from shopwarranty.outbox.models import Message
from shopwarranty.shops import stored_bytes
from shopwarranty.shops.models import Shop
from shopwarranty.web import formats

from .holder.links import holder_link
from .invitation import Appointment, Method, Participant, cancellation, cancelled, content_type
from .invitation import invitation as request_for
from .models import Booking

NEAREST_FIRST = (Holding.Role.CONTACT, Holding.Role.HOLDER, Holding.Role.OWNER)


@dataclass(frozen=True, slots=True)
class Letter:
    """One kind of message: its part of the key, subject, template, and what it does to a calendar."""

    said: str
    subject: Promise
    template: str
    method: Method


BOOKED = Letter(
    "booked", _("Your appointment: %(day)s, %(time)s"), "inspections/mail/booked.txt", Method.REQUEST
)
MOVED = Letter(
    "moved",
    _("Your appointment has moved to %(day)s, %(time)s"),
    "inspections/mail/moved.txt",
    Method.REQUEST,
)
CANCELLED = Letter(
    "cancelled",
    _("Your appointment on %(day)s, %(time)s is cancelled"),
    "inspections/mail/cancelled.txt",
    Method.CANCEL,
)


def tell_booked(booking: Booking, *, now: datetime) -> Message | None:
    return _tell(booking, BOOKED, now)


def tell_moved(booking: Booking, *, now: datetime) -> Message | None:
    return _tell(booking, MOVED, now)


def tell_cancelled(booking: Booking, *, now: datetime) -> Message | None:
    return _tell(booking, CANCELLED, now)


def forget(booking: Booking, *, now: datetime) -> None:
    """What has not gone out yet about this booking is no longer true."""
    drop_waiting(about=_about(booking), now=now)


def whom_to_tell(booking: Booking) -> Party | None:
    """Contact, else holder, else owner of the vehicle: whoever stands nearest to the appointment."""
    rows = Holding.objects.filter(vehicle_id=booking.check_due.job.vehicle_id, until__isnull=True)
    by_role = {row.role: row.party for row in rows.select_related("party").order_by("since", "pk")}
    return next((by_role[role] for role in NEAREST_FIRST if role in by_role), None)


def can_be_written_to(party: Party | None) -> bool:
    return party is not None and bool(party.email) and party.email_refused_at is None


def _about(booking: Booking) -> str:
    return f"booking:{booking.uid.hex}"


def _tell(booking: Booking, letter: Letter, now: datetime) -> Message | None:
    """None when there is nobody to write to: then it is said by telephone, and the page says so."""
    party, shop = whom_to_tell(booking), booking.shop
    if party is None or not can_be_written_to(party):
        return None
    language = party.language or shop.language
    with override(language):
        words = _words(booking, shop, party) | {"page": holder_link(booking, to=party, now=now)}
        text = render_to_string(letter.template, words)
        return put_message(
            key=f"{_about(booking)}:v{booking.sequence}:{letter.said}",
            to=party.email,
            to_name=party.name,
            subject=str(letter.subject) % words,
            text=text,
            about=_about(booking),
            language=language,
            attachments=_calendar_file(booking, letter, party, now),
            not_after=None if letter is CANCELLED else booking.starts_at,
            now=now,
        )


def _words(booking: Booking, shop: Shop, party: Party) -> dict[str, Any]:
    return {
        "day": formats.with_weekday(booking.starts_at, shop),
        "time": formats.clock(booking.starts_at, shop),
        "zone": booking.zone.replace("_", " "),
        "minutes": booking.minutes,
        "what": booking.check_due.plan.name,
        "name": party.name,
        "vehicle": str(booking.check_due.job.vehicle),
        "shop": shop,
        "by_shop": booking.state == Booking.State.CANCELLED_SHOP,
    }


def _calendar_file(booking: Booking, letter: Letter, party: Party, now: datetime) -> tuple[Attachment, ...]:
    """Nothing without the shop's own address: a calendar entry names who invites."""
    if not booking.shop.email:
        return ()
    appointment = appointment_of(booking, party, calendar_words(booking), now)
    if letter.method is Method.CANCEL:
        content = cancellation(cancelled(appointment, stamp=now))
    else:
        content = request_for(appointment)
    kept = stored_bytes.keep(content)
    return (Attachment(kept.sha256, "appointment.ics", content_type(letter.method)),)


def calendar_words(booking: Booking) -> str:
    """What stands in the calendar entry. Calendars are shared: neither name nor private address."""
    shop = booking.shop
    words = {
        "day": formats.with_weekday(booking.starts_at, shop),
        "time": formats.clock(booking.starts_at, shop),
        "zone": booking.zone.replace("_", " "),
        "vehicle": str(booking.check_due.job.vehicle),
    }
    lines = [
        gettext("%(day)s, %(time)s (%(zone)s time), %(vehicle)s.") % words,
        gettext("Another time, or not at all? Call %(telephone)s.") % {"telephone": shop.telephone}
        if shop.telephone
        else "",
        gettext("The check is an offer. Not coming, or coming later, does not end your warranty."),
    ]
    return "\n".join(line for line in lines if line)


def appointment_of(booking: Booking, party: Party | None, text: str, now: datetime) -> Appointment:
    """The booking as a calendar shows it. A cancelled one still has the sequence it was promised with."""
    starts = datetime.fromisoformat(booking.starts_local)
    gone = booking.state in (Booking.State.CANCELLED_HOLDER, Booking.State.CANCELLED_SHOP)
    shop = booking.shop
    return Appointment(
        uid=booking.uid,
        sequence=booking.sequence - int(gone),
        starts=starts,
        ends=starts + timedelta(minutes=booking.minutes),
        zone=booking.zone,
        stamp=now,
        summary=f"{booking.check_due.plan.name}, {shop.name}",
        location=shop.address,
        organizer=Participant(shop.name, shop.email) if shop.email else None,
        attendee=Participant(party.name, party.email) if party else None,
        description=text,
    )
