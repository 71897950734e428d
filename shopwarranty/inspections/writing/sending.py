"""When a message of a shop may leave, by its own rules."""

from datetime import date, datetime, timedelta

from shopwarranty.outbox.quiet_hours import SendingHours, next_sending_moment
from shopwarranty.shops.models import Shop

from ..models import CheckRules
from ..rules import days_of, rules_of

LOOK_AHEAD = 60


def hours_of(shop: Shop, rules: CheckRules) -> SendingHours:
    """Closed days cost two queries, where the shop keeps silent on them."""
    weekdays = frozenset(int(digit) for digit in rules.send_weekdays) or frozenset(range(7))
    closed = frozenset[date]() if rules.send_on_closed_days else days_of(shop, rules)
    return SendingHours(rules.send_from, rules.send_until, weekdays, closed)


def when_to_send(shop: Shop, now: datetime, rules: CheckRules | None = None) -> datetime:
    """At once inside the shop's hours, else when they begin; at once, too, when they never do."""
    try:
        return next_sending_moment(now, hours_of(shop, rules or rules_of(shop)), shop.zone)
    except ValueError:
        return now


def next_sending_day(hours: SendingHours, after: date) -> date:
    """The first day after `after` on which anything leaves."""
    days = (after + timedelta(days=n) for n in range(1, LOOK_AHEAD))
    return next((day for day in days if hours.has_day(day)), after + timedelta(days=LOOK_AHEAD))
