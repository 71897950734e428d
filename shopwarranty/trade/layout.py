"""A body style laid out flat: its panels in walking order; wheels and glass for orientation only."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from shopwarranty.trade import middle_panels as across
from shopwarranty.trade.bodies import Body, Stations, stations
from shopwarranty.trade.panels import Panel
from shopwarranty.trade.shapes import Line, ring, rounded_box
from shopwarranty.trade.side_panels import down_the_left, up_the_right

GLASS_LEAST = 12.0


@dataclass(frozen=True, slots=True)
class Layout:
    """`length` is the whole drawing's extent along u, margins included."""

    panels: tuple[Panel, ...]
    wheels: tuple[Line, ...]
    glass: tuple[Line, ...]
    length: float


@cache
def layout(body: Body) -> Layout:
    """Walking order: front, down the left, rear, up the right, roof. Also tab order and list order."""
    s = stations(body)
    panels = (
        across.front_bumper(s),
        across.bonnet(body, s),
        *down_the_left(body, s),
        across.tail(body, s),
        across.rear_bumper(s),
        *up_the_right(body, s),
        across.roof(body, s),
    )
    return Layout(panels, _wheels(body, s), _glass(body, s), s.length)


def _wheels(b: Body, s: Stations) -> tuple[Line, ...]:
    return tuple(
        ring((side * (b.sill_line + 10), axle), b.wheel - 9)
        for side in (-1, 1)
        for axle in (s.front_axle, s.rear_axle)
    )


def _glass(b: Body, s: Stations) -> tuple[Line, ...]:
    """Screen, rear glass, and the open bed, none of which carries film here."""
    m = b.half_middle
    panes = [_pane(m - 1, m - 7, (s.bonnet[1] + 5, s.roof[0] - 5), 3)]
    if b.rear_glass > GLASS_LEAST:
        panes.append(_pane(m - 8, m - 4, (s.roof[1] + 4, s.tail[0] - 4), 2))
    if b.bed:
        panes.append(rounded_box(4 - m, m - 4, s.tail[0], s.tail[0] + b.bed - 6, 6))
    return tuple(panes)


def _pane(half_front: float, half_rear: float, span: tuple[float, float], bow: float) -> Line:
    lines = across.crossing(half_front, half_rear, span, bow, -2)
    return tuple(point for part in lines for point in part[:-1])
