"""The page on which an owner says when checks can be had: the next free times, and days that differ."""

from copy import copy
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import islice
from typing import Any, Final

from shopwarranty.inspections.slots import Stretch
from shopwarranty.shops.models import Shop

from .free_places import FreePlace, packed
from .models import CheckRules
from .opening import Opening, free_between, opening_of
from .rules import Days

TIMES_SHOWN: Final = 8
DAYS_LISTED: Final = 370


@dataclass(frozen=True, slots=True)
class OtherDay:
    """A day ahead that is not as its weekday. `kind`: closed, holiday, open (all the same), hours."""

    on: date
    kind: str
    name: str
    own: Stretch | None = None


def opening_as_typed(shop: Shop, rules: CheckRules, typed: dict[str, Any]) -> Opening:
    """What would be offered, without anything saved."""
    as_if, rules_as_if = copy(shop), copy(rules)
    for name, value in typed.items():
        setattr(as_if if hasattr(as_if, name) else rules_as_if, name, value)
    return opening_of(as_if, rules=rules_as_if)


def next_free(shop: Shop, opening: Opening, now: datetime, today: date) -> list[FreePlace]:
    last = today + timedelta(days=opening.rules.days_ahead)
    return list(islice(packed(free_between(shop, opening, today, last, now=now)), TIMES_SHOWN))


def other_days(days: Days, today: date) -> list[OtherDay]:
    last = today + timedelta(days=DAYS_LISTED)
    known = days.holidays_between(today, last)
    named = {day for day in (*known, *days.closed, *days.own) if day >= today}
    return [_other(day, days, known) for day in sorted(named)]


def _other(day: date, days: Days, known: dict[date, str]) -> OtherDay:
    if day in days.closed:
        return OtherDay(day, "closed", days.closed[day] or known.get(day, ""))
    if day in days.own:
        own = days.own[day]
        return OtherDay(day, "hours" if own else "open", known.get(day, ""), own)
    return OtherDay(day, "holiday", known[day])
