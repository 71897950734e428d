"""When the shop can take a check: its hours, closed days and bays as the slot rules want them."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from shopwarranty.inspections.slots import BookingRules, OpenTimes, Slot, Stretch, Unit, free_slots
from shopwarranty.shops.models import Bay, ClosedDay, OpeningHours, Shop

from .models import BookedQuarter, Booking


@dataclass(frozen=True, slots=True)
class Opening:
    hours: OpenTimes
    rules: BookingRules

    def lasting(self, minutes: int) -> "Opening":
        """The same hours for a check that takes that long."""
        same = self.rules
        rules = BookingRules(same.zone, minutes, same.lanes, same.lead, same.days_ahead, same.grid_minutes)
        return Opening(self.hours, rules)


def opening_of(shop: Shop, minutes: int | None = None) -> Opening:
    """Three queries. `minutes`: how long the check takes, else the shop's usual time."""
    weekly = tuple((row.weekday, Stretch(row.opens, row.closes)) for row in OpeningHours.objects.all())
    closed = frozenset(ClosedDay.objects.values_list("on", flat=True))
    bays = Bay.objects.filter(takes_checks=True, retired_at__isnull=True)
    lanes = tuple(sorted(set(bays.values_list("position", flat=True))))
    rules = BookingRules(
        shop.time_zone,
        minutes or shop.check_minutes,
        lanes,
        lead=timedelta(hours=shop.lead_hours),
        days_ahead=shop.ahead_days,
    )
    return Opening(OpenTimes(weekly, closed), rules)


def day_span(shop: Shop, first: date, last: date) -> tuple[datetime, datetime]:
    """The moments at which these days begin and are over in the shop's zone."""
    begins = datetime.combine(first, time(), tzinfo=shop.zone)
    ends = datetime.combine(last + timedelta(days=1), time(), tzinfo=shop.zone)
    return begins.astimezone(UTC), ends.astimezone(UTC)


def taken_between(shop: Shop, first: date, last: date, but: Booking | None = None) -> frozenset[Unit]:
    """What is taken on these days; `but`: a booking that is about to move."""
    begins, ends = day_span(shop, first, last)
    rows = BookedQuarter.objects.filter(quarter__gte=begins, quarter__lt=ends)
    rows = rows.exclude(booking=but) if but else rows
    return frozenset(Unit(quarter, lane) for quarter, lane in rows.values_list("quarter", "lane"))


def free_between(
    shop: Shop, opening: Opening, first: date, last: date, *, now: datetime, but: Booking | None = None
) -> Iterable[Slot]:
    taken = taken_between(shop, first, last, but)
    return free_slots(opening.hours, opening.rules, taken=taken, now=now, first_day=first, last_day=last)
