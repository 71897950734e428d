"""What is filled in for a check, an appointment or a visit; and samples for a preview."""

from datetime import date, datetime, timedelta
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopwarranty.jobs.models import Party
from shopwarranty.shops.models import Shop
from shopwarranty.web import formats

from ..models import Booking, Check, Visit

Values = dict[str, str]


def of_party(party: Party, vehicle: Any, plate: str, link: str, shop: Shop) -> Values:
    call = _("call us: %(telephone)s") % {"telephone": shop.telephone} if shop.telephone else _("call us")
    return {
        "name": party.name,
        "vehicle": str(vehicle),
        "plate": plate,
        "shop": shop.name,
        "address": shop.address,
        "telephone": shop.telephone,
        "link": link or call,
    }


def of_check(check: Check, shop: Shop) -> Values:
    return {
        "what": check.plan.name,
        "minutes": str(check.plan.minutes),
        "due": formats.with_weekday(check.due_on, shop),
        "first": formats.with_weekday(check.window_from, shop),
        "last": formats.with_weekday(check.window_to, shop),
    }


def of_time(starts_at: datetime, zone: str, shop: Shop) -> Values:
    return {
        "day": formats.with_weekday(starts_at, shop),
        "time": formats.clock(starts_at, shop),
        "zone": zone.replace("_", " "),
    }


def of_booking(booking: Booking, shop: Shop) -> Values:
    check = of_check(booking.check_due, shop)
    return check | of_time(booking.starts_at, booking.zone, shop) | {"minutes": str(booking.minutes)}


def of_visit(visit: Visit, counts: dict[str, int], shop: Shop) -> Values:
    """`counts`: places by finding. Places nobody looked at are said, never taken for clean."""
    clean, wrong = counts.get("clean", 0), counts.get("defect", 0)
    what = visit.check_due.plan.name if visit.check_due else str(visit.get_origin_display())
    said = [_looked(clean + wrong, wrong)]
    if unseen := counts.get("not_looked", 0):
        words = ngettext("One place could not be looked at.", "%(n)d places could not be looked at.", unseen)
        said.append(words % {"n": unseen})
    return {
        "what": what,
        "day": formats.with_weekday(visit.happened_on, shop),
        "result": " ".join(said),
    }


def _looked(seen: int, wrong: int) -> str:
    looked = ngettext("We looked at one place", "We looked at %(n)d places", seen) % {"n": seen}
    if not wrong:
        return _("%(looked)s: all clean.") % {"looked": looked}
    noted = ngettext(
        "at one of them something is not right, and we talk to you about it",
        "at %(n)d of them something is not right, and we talk to you about it",
        wrong,
    )
    return _("%(looked)s; %(noted)s.") % {"looked": looked, "noted": noted % {"n": wrong}}


def samples(shop: Shop, today: date, *, name: str = "") -> Values:
    """Invented, for a preview: nobody's data."""
    starts = datetime.combine(today + timedelta(days=3), datetime.min.time(), tzinfo=shop.zone)
    starts = starts.replace(hour=10, minute=30)
    start = (shop.public_url or "https://shop.example").rstrip("/")
    return {
        "name": name or _("A. Example"),
        "vehicle": "Osk Tarn",
        "plate": "7FN 000",
        "shop": shop.name,
        "address": shop.address,
        "telephone": shop.telephone,
        "link": f"{start}/…",
        "what": _("Two-week edge check"),
        "minutes": "45",
        "due": formats.with_weekday(today + timedelta(days=3), shop),
        "first": formats.with_weekday(today, shop),
        "last": formats.with_weekday(today + timedelta(days=14), shop),
        **of_time(starts, shop.time_zone, shop),
        "result": _looked(42, 1),
        "week": formats.full_date(today - timedelta(days=today.weekday() + 7), shop),
        **{key: str(n) for n, key in enumerate(("missed", "not_kept", "stuck", "refused"))},
        **{"done": "7", "booked": "9", "to_call": "4", "overdue": "2"},
    }
