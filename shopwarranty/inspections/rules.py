"""The shop's rules for offering checks, as rows or, where there are none, as the defaults."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from shopwarranty.inspections.slots import Stretch
from shopwarranty.shops.models import Bay, ClosedDay, Shop

from .models import BayHours, CheckRules, OwnDay
from .public_holidays import holidays_of


def rules_of(shop: Shop) -> CheckRules:
    """The stored row, or one with the defaults that is not stored."""
    return CheckRules.objects.filter(shop=shop).first() or CheckRules(shop=shop)


@dataclass(frozen=True, slots=True)
class Days:
    """Days that are not as the week says. What was closed by hand comes first, then days with own hours.

    `own`: stretches of a day, or None where a holiday is opened as usual. Also the container of closed days.
    """

    country: str
    region: str
    language: str
    closed: Mapping[date, str]
    own: Mapping[date, Stretch | None] = field(default_factory=dict)

    def __contains__(self, day: object) -> bool:
        return isinstance(day, date) and (
            day in self.closed or (day not in self.own and bool(self.holiday(day)))
        )

    def holiday(self, day: date) -> str:
        return holidays_of(self.country, self.region, day.year, self.language).get(day, "")

    def why_closed(self, day: date) -> str:
        return self.closed.get(day, "") or self.holiday(day)

    def special(self) -> tuple[tuple[date, Stretch], ...]:
        return tuple((day, own) for day, own in self.own.items() if own and day not in self.closed)

    def holidays_between(self, first: date, last: date) -> dict[date, str]:
        years = range(first.year, last.year + 1)
        found = [holidays_of(self.country, self.region, year, self.language) for year in years]
        return {day: name for each in found for day, name in sorted(each.items()) if first <= day <= last}


def days_of(shop: Shop, rules: CheckRules) -> Days:
    """Two queries."""
    own = {
        row.on: Stretch(row.opens, row.closes) if row.opens and row.closes else None
        for row in OwnDay.objects.all()
    }
    closed = dict(ClosedDay.objects.values_list("on", "name"))
    return Days(rules.holidays_country, rules.holidays_region, shop.language, closed, own)


def lane_hours() -> tuple[tuple[int, int, Stretch], ...]:
    """Position of a bay, weekday and stretch, for bays that take checks only at times."""
    rows: Any = BayHours.objects.filter(bay__retired_at__isnull=True)
    rows = rows.values_list("bay__position", "weekday", "opens", "closes")
    return tuple((lane, weekday, Stretch(opens, closes)) for lane, weekday, opens, closes in rows)


def lanes(rules: CheckRules) -> tuple[int, ...]:
    """Positions of the bays that take checks; no more of them than there are people to look at once."""
    bays = Bay.objects.filter(takes_checks=True, retired_at__isnull=True)
    return tuple(sorted(set(bays.values_list("position", flat=True)))[: rules.people_at_once])
