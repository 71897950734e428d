"""A method changed on a day: what was laid before against what was laid since, in words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopwarranty.analysis.before_after import BeforeAfter, Told, before_after
from shopwarranty.jobs.models import MethodVersion
from shopwarranty.shops.models import Shop
from shopwarranty.web.formats import full_date

from . import said
from .asking import ADJUSTED
from .opened import Opened

TOLD: Final[Mapping[Told, str | Promise]] = {
    Told.FEWER: gettext_lazy("What was laid since goes with fewer failures."),
    Told.MORE: gettext_lazy("What was laid since goes with more failures."),
    Told.NO_DIFFERENCE: gettext_lazy("No clear difference between before and since."),
    Told.NOT_YET: gettext_lazy("Cannot tell yet whether the change made a difference."),
    Told.ALREADY_MOVING: gettext_lazy("Failures were already changing before that day."),
}


@dataclass(frozen=True, slots=True)
class ChangeDay:
    """A day on which the shop wrote a new version of a method."""

    on: date
    words: str


@dataclass(frozen=True, slots=True)
class SideLine:
    name: str
    failures: str
    places: str
    years: str
    oldest: str


@dataclass(frozen=True, slots=True)
class ChangeSheet:
    """`recorded`: the day is one on which a method changed on record, so a verdict may be said."""

    heading: str
    recorded: bool
    sides: tuple[SideLine, ...]
    ratio: str
    moving: str


def change_days(shop: Shop) -> list[ChangeDay]:
    """The newest first. One query."""
    rows = MethodVersion.objects.filter(number__gt=1).select_related("method").order_by("-valid_from")
    text = _("%(method)s, version %(number)s")
    return [
        ChangeDay(
            row.valid_from.astimezone(shop.zone).date(),
            text % {"method": row.method.name, "number": row.number},
        )
        for row in rows
    ]


def change_sheet(page: Opened, on: date, days: list[ChangeDay]) -> ChangeSheet:
    asked = page.found.asked
    found = before_after(
        asked.question.lives,
        page.table.starts[asked.rows],
        on.toordinal(),
        asked.question.named(ADJUSTED),
    )
    recorded = any(day.on == on for day in days) and not page.selection.exploring
    return ChangeSheet(
        heading=str(TOLD[found.told]) if recorded else _estimate(found, on, page),
        recorded=recorded,
        sides=_sides(found),
        ratio=_ratio(found),
        moving=_moving(found),
    )


def _estimate(found: BeforeAfter, on: date, page: Opened) -> str:
    if found.change is None:
        return _("Nothing to hold against each other: too little was watched or found on one side.")
    low, high = found.change.interval()
    text = _(
        "Since %(day)s about %(ratio)s times as often as before, somewhere from %(low)s to %(high)s times."
    )
    return text % {
        "day": full_date(on, page.words.shop),
        "ratio": said.about(found.change.ratio),
        "low": said.about(low),
        "high": said.about(high),
    }


def _sides(found: BeforeAfter) -> tuple[SideLine, ...]:
    change = found.change
    if change is None:
        return ()
    counts = ((change.reference_failures, change.reference_edges), (change.failures, change.edges))
    names = (_("Before"), _("Since"))
    return tuple(
        SideLine(name, said.count(failures), said.count(edges), said.years(days), said.count(oldest))
        for name, (failures, edges), days, oldest in zip(
            names, counts, found.edge_days, found.oldest, strict=True
        )
    )


def _ratio(found: BeforeAfter) -> str:
    if found.change is None:
        return ""
    low, high = found.change.interval()
    text = _("%(ratio)s times as often since (95%% interval %(low)s to %(high)s), compared at equal ages.")
    return text % {
        "ratio": said.times(found.change.ratio),
        "low": said.times(low),
        "high": said.times(high),
    }


def _moving(found: BeforeAfter) -> str:
    if found.moving is None:
        return _("The time before is too short to see whether failures were already changing.")
    low, high = found.moving.interval()
    text = _(
        "Within the time before, the later half failed %(ratio)s times as often as the earlier (%(between)s)."
    )
    return text % {"ratio": said.times(found.moving.ratio), "between": said.between((low, high))}
