"""The share failed by age, drawn and as a table of the same figures."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from shopwarranty.analysis.curve import ShareFailed
from shopwarranty.web.trade_names import first_upper

from . import said
from .charts import Point, Series, curve
from .counted import What, address
from .reviewing import CurveOf, ShopReview
from .words import Words

TABLE_DAYS = (14, 90, 365, 730)


@dataclass(frozen=True, slots=True)
class CurveRow:
    name: str
    url: str
    cells: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class CurveSheet:
    title: str
    drawing: SafeString
    days: tuple[int, ...]
    rows: tuple[CurveRow, ...]


def curve_sheet(found: ShopReview, words: Words) -> CurveSheet:
    pair = [one for one in found.curves if one.factor]
    shown = pair if len(pair) == 2 else list(found.curves[:1])
    title = _("Share failed by age")
    if len(pair) == 2:
        title = _("Share failed by age: %(factor)s") % {"factor": words.factor(pair[0].factor)}
    series = [_series(found, one, words) for one in shown]
    rows = tuple(_row(found, one, words) for one in found.curves)
    summary = "; ".join([title, *(f"{row.name}: {row.cells[2][0]}" for row in rows)])
    return CurveSheet(title, curve(series, TABLE_DAYS, summary), TABLE_DAYS, rows)


def _series(found: ShopReview, one: CurveOf, words: Words) -> Series:
    points = tuple(Point(s.day, s.estimate, s.low, s.high) for s in one.shares)
    steps: list[tuple[float, float]] = []
    total = 0.0
    for mass in found.review.npmle if not one.factor else ():
        if mass.until is not None:
            total += mass.mass
            steps.append((mass.until, total))
    name = words.level(one.factor, one.level) if one.factor else _("all")
    return Series(name, points if any(p.estimate > 0 for p in points) else (), tuple(steps))


def _row(found: ShopReview, one: CurveOf, words: Words) -> CurveRow:
    by_day: dict[int, ShareFailed] = {s.day: s for s in one.shares}
    name = words.heading(one.factor, one.level) if one.factor else _("All places")
    levels = ((one.factor, one.level),) if one.factor else ()
    return CurveRow(
        name=first_upper(name),
        url=address(words.shop, found.selection, What.WATCHED, *levels),
        cells=tuple((said.share(by_day.get(day)), said.share_between(by_day.get(day))) for day in TABLE_DAYS),
    )
