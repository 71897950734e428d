"""Who waits for an earlier time, and which free place each could have now."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

from shopwarranty.shops.models import Shop

from . import selectors
from .check_rows import CheckRow, row_of
from .free_places import FreePlace, packed
from .models import Check
from .opening import Opening, opening_of, taken_between
from .slots import Unit, free_slots

MOST = 50


@dataclass(frozen=True, slots=True)
class Waiting:
    """`place`: the first free one in the check's window and before the time it has."""

    check: Check
    row: CheckRow
    booked_for: datetime | None
    since: datetime
    place: FreePlace | None


def waiting_for_earlier(shop: Shop, *, now: datetime, today: date) -> list[Waiting]:
    """In the order in which they asked; as many queries for fifty as for one."""
    checks: list[Any] = list(selectors.wants_earlier()[:MOST])
    if not checks:
        return []
    opening = opening_of(shop)
    last = min(
        max(_last_day(check, shop) for check in checks), today + timedelta(days=opening.rules.days_ahead)
    )
    taken = taken_between(shop, today, max(last, today))
    return [
        Waiting(
            check,
            row_of(check, shop, today),
            check.booked_for,
            check.earlier_since,
            _place_for(check, opening, taken, shop, now=now, today=today),
        )
        for check in checks
    ]


def _last_day(check: Any, shop: Shop) -> date:
    """Sooner than this it has to be, to be earlier at all."""
    booked_for: datetime | None = check.booked_for
    return booked_for.astimezone(shop.zone).date() if booked_for else check.window_to


def _place_for(
    check: Any, opening: Opening, taken: frozenset[Unit], shop: Shop, *, now: datetime, today: date
) -> FreePlace | None:
    own = opening.lasting(check.plan.minutes)
    first, last = max(check.window_from, today), _last_day(check, shop)
    slots = free_slots(own.hours, own.rules, taken=taken, now=now, first_day=first, last_day=last)
    before = check.booked_for or datetime.combine(last + timedelta(days=1), time(), tzinfo=shop.zone)
    return next((place for place in packed(slots) if place.starts < before), None)
