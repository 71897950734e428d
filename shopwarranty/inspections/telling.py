"""What the holder is told about a booking: confirmed, moved, called off, each with its calendar entry.

A message's key is the booking's UID, its sequence and what is said: the same fact is told at most once.
"""

from datetime import datetime, timedelta
from typing import Final

from django.utils.translation import gettext, override

from shopwarranty.jobs.models import Party
from shopwarranty.outbox.actions import Attachment, drop_waiting, put_messages
from shopwarranty.outbox.channels import MAIL
from shopwarranty.outbox.models import Message
from shopwarranty.shops import stored_bytes
from shopwarranty.web import formats

from .holder.links import holder_link
from .invitation import Appointment, Method, Participant, cancellation, cancelled, content_type
from .invitation import invitation as request_for
from .models import Booking, Check
from .rules import rules_of
from .writing import kinds
from .writing.kinds import Kind
from .writing.letters import OFFER_ONLY, Wordings
from .writing.posting import message_for
from .writing.routes import Route, can_be_written_to, nearest_to, plates_of, route_to
from .writing.sending import when_to_send
from .writing.values import of_booking, of_party

__all__ = ["can_be_written_to"]

CANCELS: Final = (kinds.CANCELLED, kinds.CALLED_OFF)
MAY_HAVE_ARRIVED: Final = (Message.State.SENT, Message.State.SENDING, Message.State.PARKED)


def tell_booked(booking: Booking, *, now: datetime) -> Message | None:
    return _tell(booking, kinds.BOOKED, now)


def tell_moved(booking: Booking, *, now: datetime, heard: bool = True) -> Message | None:
    """Somebody who has not heard of the time before the move is told of the new one alone."""
    return _tell(booking, kinds.MOVED if heard else kinds.BOOKED, now)


def tell_cancelled(booking: Booking, *, now: datetime) -> Message | None:
    by_shop = booking.state == Booking.State.CANCELLED_SHOP
    return _tell(booking, kinds.CALLED_OFF if by_shop else kinds.CANCELLED, now)


def forget(booking: Booking, *, now: datetime) -> bool:
    """What has not gone out yet about this booking is no longer true and does not go.

    False when all that was written about it was still waiting: then nobody has heard of it.
    """
    heard = Message.objects.filter(about=about(booking), state__in=MAY_HAVE_ARRIVED).exists()
    dropped = drop_waiting(about=about(booking), now=now)
    return heard or not dropped


def forget_offers(check: Check, *, now: datetime) -> None:
    """Nobody is asked for a time that there is, or that is no longer wanted."""
    drop_waiting(about=about_check(check), now=now)


def whom_to_tell(booking: Booking) -> Party | None:
    """Contact, else holder, else owner of the vehicle: whoever stands nearest to the appointment."""
    vehicle = booking.check_due.job.vehicle_id
    return nearest_to([vehicle]).get(vehicle)


def about(booking: Booking) -> str:
    return f"booking:{booking.uid.hex}"


def about_check(check: Check) -> str:
    return f"check:{check.pk}"


def _tell(booking: Booking, kind: Kind, now: datetime) -> Message | None:
    """None when there is nobody to write to: then it is said by telephone, and the page says so."""
    party, shop, rules = whom_to_tell(booking), booking.shop, rules_of(booking.shop)
    route = route_to(party, shop, rules, kind)
    if party is None or route is None:
        return None
    job, cancels = booking.check_due.job, kind in CANCELS
    key = f"{about(booking)}:v{booking.sequence}:{'cancelled' if cancels else kind.key}"
    with override(route.language):
        link = holder_link(booking, to=party, now=now)
        plate = plates_of([job.vehicle_id]).get(job.vehicle_id, "")
        values = of_party(party, job.vehicle, plate, link, shop) | of_booking(booking, shop)
        message = message_for(
            kind,
            route,
            values,
            shop=shop,
            wordings=Wordings(),
            key=key,
            about=about(booking),
            now=now,
            not_before=when_to_send(shop, now, rules),
            not_after=None if cancels else booking.starts_at,
            attachments=_calendar_file(booking, kind, route, now),
        )
    put_messages([message])
    stored: Message = Message.objects.get(key=key)
    return stored


def _calendar_file(booking: Booking, kind: Kind, route: Route, now: datetime) -> tuple[Attachment, ...]:
    """Nothing without the shop's own address: a calendar entry names who invites."""
    if not booking.shop.email or route.channel != MAIL:
        return ()
    appointment = appointment_of(booking, route.party, calendar_words(booking), now)
    cancels = kind in CANCELS
    content = cancellation(cancelled(appointment, stamp=now)) if cancels else request_for(appointment)
    kept = stored_bytes.keep(content)
    method = Method.CANCEL if cancels else Method.REQUEST
    return (Attachment(kept.sha256, "appointment.ics", content_type(method)),)


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
        str(OFFER_ONLY),
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
