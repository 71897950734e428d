"""The sum of failures beyond what was to be expected, as laid, under the line it signals at."""

from __future__ import annotations

from django.utils.html import escape
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from . import said
from .charts import BOTTOM, HIGH, LEFT, RIGHT, TOP, WIDE
from .drifting import DriftOf


def drift_chart(one: DriftOf, ends: tuple[str, str], summary: str) -> SafeString:
    """`ends`: the first and last day in words."""
    top = 1.15 * max(one.limit, *one.path)
    first, span = one.days[0], max(1, one.days[-1] - one.days[0])

    def x(day: float) -> float:
        return LEFT + (RIGHT - LEFT) * (day - first) / span

    def y(height: float) -> float:
        return BOTTOM - (BOTTOM - TOP) * height / top

    steps = "".join(f"H{x(day):.1f}V{y(h):.1f}" for day, h in zip(one.days, one.path, strict=True))
    line = y(one.limit)
    box = f'viewBox="0 0 {WIDE:g} {HIGH:g}"'
    return SafeString(
        f'<svg class="curve drift" {box} role="img" aria-label="{escape(summary)}">'
        f'<path class="c-grid" d="M{LEFT:g} {BOTTOM:g}H{RIGHT:g}"/>'
        f'<text class="c-t c-end" x="{LEFT - 6:g}" y="{BOTTOM + 4:g}">0</text>'
        f'<path class="c-limit" d="M{LEFT:g} {line:.1f}H{RIGHT:g}"/>'
        f'<text class="c-t c-end" x="{LEFT - 6:g}" y="{line + 4:.1f}">{said.fixed(one.limit, 1)}</text>'
        f'<text class="c-n" x="{RIGHT + 6:g}" y="{line + 4:.1f}">{escape(_("line"))}</text>'
        f'<path class="c-line" d="M{LEFT:g} {BOTTOM:g}{steps}"/>'
        f'<text class="c-t c-start" x="{LEFT:g}" y="{BOTTOM + 20:g}">{escape(ends[0])}</text>'
        f'<text class="c-t c-end" x="{RIGHT:g}" y="{BOTTOM + 20:g}">{escape(ends[1])}</text></svg>'
    )
