"""Events per 100 jobs by age: a bar a month, its interval as a line through its top."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.html import escape
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from shopwarranty.analysis.claim_rates import AgeRate
from shopwarranty.analysis.forecast import HARDLY_WATCHED

from .. import said
from ..charts import BOTTOM, HIGH, LEFT, TOP, WIDE

RIGHT = WIDE - 16
STEPS = (0.5, 1, 2, 3, 5, 7.5, 10, 15, 20, 30, 50, 75, 100, 150, 200, 300, 500, 1000)
MARKS = (1, 6, 12, 18, 24, 36, 48, 60, 84, 120)


def rate_chart(lines: Sequence[AgeRate], summary: str) -> SafeString:
    """Per 100 jobs and month of age; nothing to draw gives nothing. An interval may leave the frame.

    Ages hardly watched yet are left to the table: one event there would dwarf all others.
    """
    drawn = [one for one in lines if one.rate is not None and one.exposure >= HARDLY_WATCHED]
    if not drawn or not any(one.events for one in drawn):
        return SafeString("")
    last = max((one.band.last or one.band.first) + 1 for one in drawn)
    top = _top(drawn)
    inner = _grid(top) + _marks(last) + "".join(_bar(one, last, top) for one in drawn)
    box = f'viewBox="0 0 {WIDE:g} {HIGH:g}"'
    return SafeString(f'<svg class="curve" {box} role="img" aria-label="{escape(summary)}">{inner}</svg>')


def _top(lines: Sequence[AgeRate]) -> float:
    highest = max(100 * (one.rate or 0.0) for one in lines)
    ends = sorted(100 * one.interval.high for one in lines if one.interval and one.events)
    wanted = max(1.1 * highest, min(ends[-1] if ends else 0.0, 1.6 * highest))
    return next((step for step in STEPS if step >= wanted), wanted)


def _x(month: float, last: int) -> float:
    return LEFT + (RIGHT - LEFT) * month / last


def _y(rate: float, top: float) -> float:
    return BOTTOM - (BOTTOM - TOP) * min(rate / top, 1.0)


def _bar(one: AgeRate, last: int, top: float) -> str:
    gap = 1.5
    low, high = _x(one.band.first, last) + gap, _x((one.band.last or one.band.first) + 1, last) - gap
    middle, height = (low + high) / 2, _y(100 * (one.rate or 0.0), top)
    bar = f'<path class="p-bar" d="M{low:.1f} {BOTTOM:g}V{height:.1f}H{high:.1f}V{BOTTOM:g}Z"/>'
    if one.interval is None or not one.events:
        return bar if one.events else ""
    ends = (_y(100 * one.interval.low, top), _y(100 * one.interval.high, top))
    return f'{bar}<path class="p-reach" d="M{middle:.1f} {ends[0]:.1f}V{ends[1]:.1f}"/>'


def _grid(top: float) -> str:
    lines = ""
    for rate in (0.0, top / 2, top):
        y = _y(rate, top)
        words = said.fixed(rate, 0 if rate == int(rate) else 2 if top < 2 else 1)
        lines += f'<path class="c-grid" d="M{LEFT:g} {y:.1f}H{RIGHT:g}"/>'
        lines += f'<text class="c-t c-end" x="{LEFT - 6:g}" y="{y + 4:.1f}">{words}</text>'
    return lines


def _marks(last: int) -> str:
    shown = [month for month in MARKS if month <= last]
    texts = ""
    for month in shown:
        words = _("month %(month)s") % {"month": month} if month == 1 else str(month)
        x = _x(month - 0.5, last)
        anchor = " c-start" if month == 1 else ""
        texts += (
            f'<text class="c-t{anchor}" x="{max(x, LEFT):.1f}" y="{BOTTOM + 20:g}">{escape(words)}</text>'
        )
    return texts
