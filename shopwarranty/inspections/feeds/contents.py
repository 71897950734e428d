"""What stands in a calendar feed: the appointments that stand, with the job's number and nobody's name."""

from datetime import date, datetime, timedelta
from typing import Final

from django.utils.translation import gettext as _

from shopwarranty.shops.models import Bay, Shop

from .. import invitation
from ..invitation import Appointment
from ..models import Booking
from ..opening import day_span
from ..telling import appointment_of

BACK: Final = timedelta(days=30)
SHOWN: Final = (Booking.State.BOOKED, Booking.State.KEPT)


def shop_calendar(
    shop: Shop, *, now: datetime, today: date, bay: Bay | None = None, source_url: str = ""
) -> bytes:
    """The calendar of a shop, or of one bay, from a month ago on. Two queries.

    What was moved stands at its new time with a grown SEQUENCE; what was called off is gone.
    """
    begins = day_span(shop, today - BACK, today)[0]
    rows = Booking.objects.filter(starts_at__gte=begins, state__in=SHOWN)
    rows = rows.filter(lane=bay.position) if bay else rows
    rows = rows.select_related("shop", "check_due__plan", "check_due__job").order_by("starts_at", "pk")
    bays = dict(Bay.objects.values_list("position", "name"))
    return invitation.feed(
        [_appointment(row, bays.get(row.lane, ""), now) for row in rows],
        name=f"{shop.name}, {bay.name}" if bay else _("%(shop)s, checks") % {"shop": shop.name},
        zone=shop.time_zone,
        today=today,
        source_url=source_url,
    )


def _appointment(booking: Booking, bay: str, now: datetime) -> Appointment:
    """Calendars are shared: neither name, plate nor vehicle. The number leads to the rest at the desk."""
    words = _("Job %(ref)s") % {"ref": booking.check_due.job.ref}
    if booking.over_capacity_why:
        bay = _("extra, beyond the bays")
    one = appointment_of(booking, None, f"{words}. {bay}".strip(" ."), now)
    summary = f"{booking.check_due.plan.name}, {booking.check_due.job.ref}"
    return Appointment(
        uid=one.uid,
        sequence=one.sequence,
        starts=one.starts,
        ends=one.ends,
        zone=one.zone,
        stamp=one.stamp,
        summary=summary,
        location=bay,
        organizer=one.organizer,
        description=one.description,
    )
