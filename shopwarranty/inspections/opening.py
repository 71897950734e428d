"""When the shop can take a check: its hours, closed days and bays as the slot rules want them."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta

from shopwarranty.inspections.due_dates import Direction
from shopwarranty.inspections.slots import BookingRules, OpenTimes, Slot, Stretch, Unit, free_slots
from shopwarranty.shops.models import OpeningHours, Shop

from .models import BookedQuarter, Booking, CheckRules
from .rules import Days, days_of, lane_hours, lanes, rules_of


@dataclass(frozen=True, slots=True)
class Opening:
    hours: OpenTimes
    rules: BookingRules
    days: Days
    prefer: Direction = Direction.NEXT

    def lasting(self, minutes: int) -> "Opening":
        """The same hours for a check that takes that long."""
        return Opening(self.hours, replace(self.rules, minutes=minutes), self.days, self.prefer)


def opening_of(shop: Shop, minutes: int | None = None, rules: CheckRules | None = None) -> Opening:
    """Six queries. `minutes`: how long the check takes, else the shop's usual time.

    `rules`: those to go by, when they are not the stored ones.
    """
    rules = rules or rules_of(shop)
    weekly = tuple((row.weekday, Stretch(row.opens, row.closes)) for row in OpeningHours.objects.all())
    days = days_of(shop, rules)
    booking = BookingRules(
        shop.time_zone,
        minutes or shop.check_minutes,
        lanes(rules),
        lead=timedelta(hours=shop.lead_hours),
        days_ahead=shop.ahead_days,
        lane_hours=lane_hours(),
    )
    hours = OpenTimes(weekly, days, days.special())
    return Opening(hours, booking, days, Direction(rules.when_closed))


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
