"""The page on which a check gets its time: free places by day, the likeliest one in front."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, Final

from shopwarranty.inspections.due_dates import propose_day
from shopwarranty.inspections.slots import Slot, slot_at
from shopwarranty.shops.models import Shop

from .actions.plans import window_of
from .free_places import FreePlace, by_day, packed, read_slot_key
from .models import Booking, Check
from .opening import free_between, opening_of

DAYS_SHOWN: Final = 5
LOOK_AHEAD: Final = timedelta(days=21)


@dataclass(frozen=True, slots=True)
class Day:
    on: date
    places: tuple[FreePlace, ...]
    in_window: bool


@dataclass(frozen=True, slots=True)
class Choice:
    """`best`: first free place on or after the proposed day. `earlier`, `later`: where paging leads."""

    best: FreePlace | None
    days: tuple[Day, ...]
    earlier: date | None
    later: date | None


def load_choice(
    shop: Shop, check: Check, *, now: Any, today: date, first: date | None = None, but: Booking | None = None
) -> Choice:
    """The free places to choose from. `first`: the day to begin with; `but`: a booking about to move."""
    window, opening = window_of(check), opening_of(shop, check.plan.minutes)
    proposal = propose_day(window, opening.hours.is_open, not_before=today, prefer=opening.prefer)
    wanted = proposal.day if proposal else max(window.due, today)
    begin = max(first or wanted, today)
    last_bookable = today + timedelta(days=opening.rules.days_ahead)
    end = min(begin + LOOK_AHEAD, last_bookable)
    free = free_between(shop, opening, min(begin, wanted), max(end, wanted), now=now, but=but)
    found = by_day(packed(free))
    best = next((place for on, places in found.items() if on >= wanted for place in places), None)
    shown = [on for on in found if on >= begin][:DAYS_SHOWN]
    days = tuple(Day(on, tuple(found[on]), on in window) for on in shown)
    later = shown[-1] + timedelta(days=1) if len(shown) == DAYS_SHOWN else None
    earlier = max(today, begin - timedelta(days=7)) if begin > today else None
    return Choice(best, days, earlier, later if later and later <= last_bookable else None)


def slot_named(shop: Shop, check: Check, key: str) -> Slot:
    """The slot a form names, for this check. Raises ValueError (and WallTimeProblem, which is one)."""
    starts, lane = read_slot_key(key)
    return slot_at(starts, zone=shop.time_zone, minutes=check.plan.minutes, lane=lane)
