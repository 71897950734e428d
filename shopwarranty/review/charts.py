"""Charts drawn on the server: geometry here, colours and strokes in the style sheet, a table beside each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log2, sqrt

from django.utils.html import escape
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from shopwarranty.web.svg import XMLNS

from . import said

# the effects table: a doubling is as wide to the right as a halving to the left
FOREST_WIDE, FOREST_HIGH, ONE_AT, DOUBLING = 244.0, 28.0, 111.0, 41.6
TICKS = ((-2, "¼"), (-1, "½"), (0, ""), (1, "2×"), (2, "4×"))

# The PDF renderer does not reach into a drawing from the page's style sheet.
PAPER_STYLE = (
    "<style>"
    "path{fill:none;stroke-linecap:round;stroke-linejoin:round}"
    "text{font-family:Liberation Sans,sans-serif;font-size:12px;fill:#333;text-anchor:middle}"
    ".f-one{stroke:#777;stroke-width:1.5;stroke-dasharray:2 4}"
    ".f-bar{stroke:#111;stroke-width:3}.f-mid{stroke:#111;stroke-width:5}"
    ".f-more .f-bar,.f-more .f-mid{stroke:#a03409}.f-fewer .f-bar,.f-fewer .f-mid{stroke:#1a5f74}"
    ".f-cannot-tell .f-bar,.f-cannot-separate .f-bar{stroke:#585f63;stroke-width:4;stroke-dasharray:0 7}"
    ".f-cannot-tell .f-mid,.f-cannot-separate .f-mid{stroke:#585f63}"
    ".c-grid{stroke:#ccc}.c-end{text-anchor:end}.c-n{text-anchor:start;fill:#111;font-weight:bold}"
    ".c-line{stroke:#111;stroke-width:2.6}.c-step{stroke:#555;stroke-width:1}"
    ".c-band{stroke:none;fill:#e8e5db}.c-start{text-anchor:start}"
    ".c-limit{stroke:#a03409;stroke-width:1.5;stroke-dasharray:6 4}.drift .c-line{stroke-width:1.6}"
    ".curve-pair .c-line.c-0{stroke:#a03409}.curve-pair .c-band.c-0{fill:#f8e3d8}"
    ".curve-pair .c-line.c-1{stroke:#1a5f74;stroke-dasharray:7 4}.curve-pair .c-band.c-1{fill:#dceaec}"
    "</style>"
)


def on_paper(drawing: str) -> str:
    """The same drawing as a file of its own that brings its strokes with it."""
    head, _end, rest = drawing.partition(">")
    return f"{head} {XMLNS}>{PAPER_STYLE}{rest}"


WIDE, HIGH = 610.0, 200.0
LEFT, RIGHT, TOP, BOTTOM = 44.0, 520.0, 10.0, 168.0


def forest(ratio: float, interval: tuple[float, float], mark: str) -> SafeString:
    """The interval of a ratio as a bar, its estimate as a stroke; what leaves the frame ends at its rim."""
    low, high = (_along(end) for end in interval)
    middle = _along(ratio)
    box = f'viewBox="0 0 {FOREST_WIDE:g} {FOREST_HIGH:g}"'
    return SafeString(
        f'<svg class="forest f-{escape(mark)}" {box} aria-hidden="true">'
        f'<path class="f-one" d="M{ONE_AT:g} 0V{FOREST_HIGH:g}"/>'
        f'<path class="f-bar" d="M{low:.1f} 14H{high:.1f}"/>'
        f'<path class="f-mid" d="M{middle:.1f} 6V22"/></svg>'
    )


def forest_scale() -> SafeString:
    texts = "".join(
        f'<text class="f-t" x="{ONE_AT + step * DOUBLING:.1f}" y="14">{escape(words or _("same"))}</text>'
        for step, words in TICKS
    )
    box = f'viewBox="0 0 {FOREST_WIDE:g} 20"'
    return SafeString(f'<svg class="forest" {box} aria-hidden="true">{texts}</svg>')


def _along(ratio: float) -> float:
    where = ONE_AT + DOUBLING * log2(max(ratio, 1e-6))
    return min(max(where, 4.0), FOREST_WIDE - 4.0)


@dataclass(frozen=True, slots=True)
class Point:
    """A share of 0 to 1 by a day, with its interval."""

    day: int
    estimate: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Series:
    """`steps`: (day, share) of the estimate that assumes no shape, where there is one."""

    name: str
    points: tuple[Point, ...]
    steps: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class _Scale:
    last_day: int
    top: float

    def x(self, day: float) -> float:
        """Root of the day: the first weeks matter most and need the room."""
        return LEFT + (RIGHT - LEFT) * sqrt(day / self.last_day)

    def y(self, share: float) -> float:
        return BOTTOM - (BOTTOM - TOP) * min(share / self.top, 1.0)


def curve(series: Sequence[Series], days: Sequence[int], summary: str) -> SafeString:
    """Lines with bands; `days` are marked below. Nothing to draw gives nothing."""
    drawn = [one for one in series if one.points]
    if not drawn:
        return SafeString("")
    scale = _Scale(max(p.day for one in drawn for p in one.points), _top(drawn))
    bands = "".join(_band(one, scale, n) for n, one in enumerate(drawn))
    lines = "".join(_line(one, scale, n) for n, one in enumerate(drawn))
    steps = "".join(_steps(one, scale, n) for n, one in enumerate(drawn))
    inner = _grid(scale) + _marks(scale, days) + bands + steps + lines + _names(drawn, scale)
    box = f'viewBox="0 0 {WIDE:g} {HIGH:g}"'
    pair = " curve-pair" if len(drawn) == 2 else ""
    return SafeString(
        f'<svg class="curve{pair}" {box} role="img" aria-label="{escape(summary)}">{inner}</svg>'
    )


def _top(series: Sequence[Series]) -> float:
    """A round share above everything drawn; wide bands may leave the frame, the lines may not."""
    line = max(p.estimate for one in series for p in one.points)
    band = max(p.high for one in series for p in one.points)
    wanted = max(min(band, 2.5 * line), 1.05 * line, 0.01)
    steps = (0.01, 0.02, 0.05, 0.1, 0.2, 0.3, 0.5, 0.75, 1.0)
    return next((step for step in steps if step >= wanted), 1.0)


def _grid(scale: _Scale) -> str:
    lines = ""
    for share in (0.0, scale.top / 2, scale.top):
        y = scale.y(share)
        places = 0 if scale.top >= 0.02 and (share * 100) % 1 < 1e-9 else 1
        lines += f'<path class="c-grid" d="M{LEFT:g} {y:.1f}H{RIGHT:g}"/>'
        lines += (
            f'<text class="c-t c-end" x="{LEFT - 6:g}" y="{y + 4:.1f}">{said.percent(share, places)}</text>'
        )
    return lines


def _marks(scale: _Scale, days: Sequence[int]) -> str:
    shown = [day for day in days if day <= scale.last_day] or [scale.last_day]
    texts = ""
    for day in shown:
        words = _("%(day)s days") % {"day": day} if day == shown[-1] else str(day)
        x = scale.x(day)
        texts += f'<path class="c-grid" d="M{x:.1f} {BOTTOM:g}v5"/>'
        texts += f'<text class="c-t" x="{x:.1f}" y="{BOTTOM + 20:g}">{escape(words)}</text>'
    return texts


def _line(one: Series, scale: _Scale, number: int) -> str:
    points = "L".join(f"{scale.x(p.day):.1f} {scale.y(p.estimate):.1f}" for p in _from_zero(one))
    return f'<path class="c-line c-{number}" d="M{points}"/>'


def _steps(one: Series, scale: _Scale, number: int) -> str:
    moves = "".join(
        f"H{scale.x(day):.1f}V{scale.y(share):.1f}" for day, share in one.steps if day <= scale.last_day
    )
    start = f"M{scale.x(0):.1f} {scale.y(0):.1f}"
    return f'<path class="c-step c-{number}" d="{start}{moves}"/>' if moves else ""


def _band(one: Series, scale: _Scale, number: int) -> str:
    points = _from_zero(one)
    there = [f"{scale.x(p.day):.1f} {scale.y(p.high):.1f}" for p in points]
    back = [f"{scale.x(p.day):.1f} {scale.y(p.low):.1f}" for p in reversed(points)]
    return f'<path class="c-band c-{number}" d="M{"L".join([*there, *back])}Z"/>'


def _from_zero(one: Series) -> tuple[Point, ...]:
    return (Point(0, 0.0, 0.0, 0.0), *one.points)


def _names(series: Sequence[Series], scale: _Scale) -> str:
    """At the end of each line, kept apart where two lines end close together."""
    ends = sorted((scale.y(one.points[-1].estimate), scale.x(one.points[-1].day), one.name) for one in series)
    texts, lowest = "", -100.0
    for y, x, name in ends:
        lowest = max(y, lowest + 16)
        texts += f'<text class="c-n" x="{x + 6:.1f}" y="{lowest + 4:.1f}">{escape(name)}</text>'
    return texts
