"""Is the work slipping? The sum as a drawing and as a table, with how slow it is said beside it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Final

from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopwarranty.web.formats import full_date

from . import said
from .drift_chart import drift_chart
from .drifting import DriftOf
from .reviewing import ShopReview
from .words import Words

EXPLAINED: Final = gettext_lazy(
    "Every failure beyond what the same panels and places would show lifts the sum, every clean vehicle "
    "lowers it; the order is that of laying, the last two years. Unchanged work reaches it once in ten such "
    "stretches. It is slow: twice the failures are noticed within a year in half to four fifths of shops, so "
    "below the line is not proof."
)


@dataclass(frozen=True, slots=True)
class DriftLine:
    whose: str
    vehicles: str
    highest: str
    now: str
    line: str
    says: str


@dataclass(frozen=True, slots=True)
class DriftSheet:
    heading: str
    explained: str
    drawing: SafeString
    summary: str
    lines: tuple[DriftLine, ...]


def drift_sheet(found: ShopReview, words: Words, installers: frozenset[str]) -> DriftSheet | None:
    """None while nothing can be watched for slipping; of installers those this reader may see."""
    shown = [one for one in found.drift if not one.level or one.level in installers]
    if not shown:
        return None
    over = any(one.signal for one in shown)
    heading = _("Something may be slipping") if over else _("Nothing seen slipping")
    whole = next((one for one in shown if not one.level), None)
    drawing, summary = SafeString(""), ""
    if whole is not None:
        ends = _ends(whole, words)
        summary = _summary(whole, ends)
        drawing = drift_chart(whole, ends, summary)
    return DriftSheet(heading, str(EXPLAINED), drawing, summary, tuple(_line(one, words) for one in shown))


def _ends(one: DriftOf, words: Words) -> tuple[str, str]:
    first, last = (date.fromordinal(day) for day in (one.days[0], one.days[-1]))
    return full_date(first, words.shop), full_date(last, words.shop)


def _summary(one: DriftOf, ends: tuple[str, str]) -> str:
    text = _("The sum of the whole shop, vehicles laid %(first)s to %(last)s: now %(now)s, line %(line)s.")
    return text % {
        "first": ends[0],
        "last": ends[1],
        "now": said.fixed(one.path[-1], 1),
        "line": said.fixed(one.limit, 1),
    }


def _line(one: DriftOf, words: Words) -> DriftLine:
    says = _("below the line")
    if one.signal is not None:
        text = _("over the line with the vehicle laid on %(day)s: more than luck explains")
        says = text % {"day": full_date(one.signal, words.shop)}
    return DriftLine(
        whose=one.level or _("The whole shop"),
        vehicles=said.count(one.vehicles),
        highest=said.fixed(max(one.path), 1),
        now=said.fixed(one.path[-1], 1),
        line=said.fixed(one.limit, 1),
        says=says,
    )
