"""The panels of one side, written for the right of the drawing (v >= 0) and mirrored for the left."""

from __future__ import annotations

from dataclasses import replace

from shopwarranty.trade.bodies import GAP, Body, PartName, Stations
from shopwarranty.trade.panels import Edge, Panel, Recess, Side
from shopwarranty.trade.shapes import Line, Point, arc, box, capsule_along, curve, line, mirrored

SCREEN_EDGE = 195.0  # half the width of the drawing: hit areas may reach the edge of a phone
NEAR_WHEEL = 46.0  # a door whose end lies closer to the axle than this is cut round the wheel

WING = PartName("wing", "front wing", "front fender")
MIRROR = PartName("mirror", "mirror cap", "mirror cap")
RAIL = PartName("rail", "roof rail and A-pillar", "roof rail and A-pillar")
SILL = PartName("sill", "sill", "rocker panel")


def down_the_left(b: Body, s: Stations) -> tuple[Panel, ...]:
    """Front to rear. The mirror follows the rail in both directions: its hit area has to lie on top."""
    pieces = (wing(b, s), rail(b, s), mirror(b, s), *doors(b, s), quarter(b, s), sill(b, s))
    return tuple(on_side(piece, Side.LEFT) for piece in pieces)


def up_the_right(b: Body, s: Stations) -> tuple[Panel, ...]:
    pieces = (sill(b, s), quarter(b, s), *reversed(doors(b, s)), rail(b, s), mirror(b, s), wing(b, s))
    return tuple(on_side(piece, Side.RIGHT) for piece in pieces)


def on_side(panel: Panel, side: Side) -> Panel:
    """The panel with its side in key and name, mirrored when it belongs to the left."""
    named = replace(
        panel,
        key=f"{side}-{panel.kind}",
        name=f"{side} {panel.name}",
        name_us=f"{side} {panel.name_us}",
        side=side,
    )
    return _mirrored(named) if side is Side.LEFT else named


def wing(b: Body, s: Stations) -> Panel:
    u0, u1 = s.bonnet[0], s.bonnet[1] + 4
    low, top, window = b.sill_line, 62.0, b.window_line
    hub = (low + 10, s.front_axle)
    # Blunt ahead of the wheel: a sharp tip of film would lift.
    tip = (low - 12, _on_rim(hub, b.wheel, low - 12, -1))
    heel = (low, _on_rim(hub, b.wheel, low, 1))
    edges = (
        Edge("front", "lamp line", curve((top, u0 + 4), (84, u0 - 3), (low - 26, u0), tip)),
        Edge("arch", "wheel arch", arc(hub, b.wheel, tip, heel)),
        Edge("foot", "bottom edge", line(heel, (low, u1))),
        Edge("rear", "door line", line((low, u1), (window, u1))),
        Edge("pillar", "pillar line", curve((window, u1), (86, u1 - 3), (72, u1 - 6), (top, u1 - 14))),
        Edge("top", "bonnet line", line((top, u1 - 14), (top, u0 + 4)), "hood line"),
    )
    return _panel(WING, edges, label=(90, u0 + (u1 - u0) * 0.45), hit=box(56, SCREEN_EDGE, u0 - 2, u1))


def mirror(b: Body, s: Stations) -> Panel:
    w, u0 = b.window_line, s.first_door[0] + 36
    v0, v1 = w - 25, w - 5
    face = curve((v0 + 3, u0 + 24), (v0 - 3, u0 + 8), (v0 + 3, u0), (v0 + 12, u0))
    outer = curve((v0 + 12, u0), (v1 + 2, u0 + 1), (v1 + 2, u0 + 22), (v1 - 3, u0 + 26))
    glass = curve((v1 - 3, u0 + 26), (v1 - 10, u0 + 29), (v0 + 8, u0 + 29), (v0 + 3, u0 + 24))
    edges = (
        Edge("face", "face line", face),
        Edge("outer", "outer line", outer),
        Edge("glass", "glass line", glass),
    )
    return _panel(
        MIRROR,
        edges,
        label=((v0 + v1) / 2, u0 + 14),
        hit=box(w - 46, w, u0 - 9, u0 + 37),
        corner=3,
    )


def doors(b: Body, s: Stations) -> tuple[Panel, ...]:
    u0, u1 = s.first_door
    if not b.second_door:
        return (door(b, b.first_door_part, u0, u1, s.rear_axle),)
    return (
        door(b, b.first_door_part, u0, u1, None),
        door(b, b.second_door_part, u1 + GAP, s.doors_end, s.rear_axle),
    )


def door(b: Body, part: PartName, u0: float, u1: float, axle: float | None) -> Panel:
    """Near the rear wheel (`axle`) the rear edge follows the arch."""
    w, low = b.window_line, b.sill_line
    bottom_end: Point = (low, u1)
    rear = line(bottom_end, (w, u1))
    if axle is not None and axle - u1 < NEAR_WHEEL:
        hub, radius = (low + 10, axle), b.wheel + 8
        bottom_end = (low, _on_rim(hub, radius, low, -1))
        high = (low - 22, _on_rim(hub, radius, low - 22, -1))
        rear = arc(hub, radius, bottom_end, high, 10) + line((w, u1))
    edges = (
        Edge("front", "front edge", line((w, u0), (low, u0))),
        Edge("bottom", "bottom edge", line((low, u0), bottom_end)),
        Edge("rear", "rear edge", rear),
        Edge("window", "window line", curve((w, u1), (w - 2, u1 - 26), (w - 2, u0 + 26), (w, u0))),
    )
    recesses = (
        Recess("handle", "handle cup", capsule_along(w + 11, u1 - 32, u1 - 9, 4)),
        Recess("line", "body line", _swage(low - 14, u0, bottom_end[1])),
    )
    return _panel(part, edges, recesses, label=((w + low) / 2 - 1, (u0 + u1) / 2 - 10))


def quarter(b: Body, s: Stations) -> Panel:
    u0, (near, far) = s.doors_end + GAP, _rear_arch(b, s)
    u1 = max(_quarter_end(b, s), far + 22)
    low, top, window = b.sill_line, b.quarter_top, b.window_line
    reaches_roof = top < window - 8
    edges = (
        *_quarter_front(b, s, u0, near, far),
        Edge("foot", "lower rear", line((low, far), (low - 2, u1 - 6))),
        Edge("rear", "lamp line", _quarter_rear(b, u1)),
        *_quarter_upper(b, u0, u1, reaches_roof),
    )
    across = (top + low - 40) / 2 if reaches_roof else window + 18
    label = (across, (u0 + u1) / 2 + (6 if reaches_roof else -30))
    return _panel(b.quarter_part, edges, label=label, hit=box(min(top, window) - 4, SCREEN_EDGE, u0, u1 + 2))


def rail(b: Body, s: Stations) -> Panel:
    w, u0 = b.window_line, s.first_door[0] - 2
    u1 = s.roof[1] if b.quarter_top > 90 else s.doors_end + 14
    upper = curve((w - 6, u0), (80, u0 + 6), (57, u0 + 24), (56, u0 + 60)) + line((56, u1))
    lower = line((68, u1), (68, u0 + 66)) + curve(
        (68, u0 + 66), (68, u0 + 42), (84, u0 + 26), (w - 4, u0 + 14)
    )
    edges = (
        Edge("upper", "roof line", upper),
        Edge("end", "rear end", line((56, u1), (68, u1))),
        Edge("lower", "window line", lower),
        Edge("foot", "pillar foot", line((w - 4, u0 + 14), (w - 6, u0))),
    )
    label = (82, (u0 + u1) / 2 + 24)
    return _panel(RAIL, edges, label=label, hit=box(54, w - 2, u0, u1 + 2), corner=4)


def sill(b: Body, s: Stations) -> Panel:
    v = b.sill_line + 6
    clear = 4 if s.rear_axle - s.doors_end < NEAR_WHEEL else 0
    u0, u1 = s.first_door[0] - 8, min(s.doors_end - clear, s.rear_axle - b.wheel - 6)
    edges = (
        Edge("top", "top edge", line((v, u1), (v, u0))),
        Edge("front", "front end", line((v, u0), (v + 16, u0 + 8))),
        Edge("bottom", "bottom edge", line((v + 16, u0 + 8), (v + 16, u1 - 8))),
        Edge("rear", "rear end", line((v + 16, u1 - 8), (v, u1))),
    )
    label = (v + 8, (u0 + u1) / 2)
    return _panel(SILL, edges, label=label, hit=box(v - 4, SCREEN_EDGE, u0, u1), corner=5)


def _panel(
    part: PartName,
    edges: tuple[Edge, ...],
    recesses: tuple[Recess, ...] = (),
    *,
    label: Point,
    hit: Line = (),
    corner: float = 6.0,
) -> Panel:
    """A panel not yet put on a side."""
    return Panel(part.key, part.key, part.name, part.name_us, Side.RIGHT, edges, recesses, corner, label, hit)


def _mirrored(panel: Panel) -> Panel:
    return replace(
        panel,
        edges=tuple(replace(e, points=mirrored(e.points)) for e in panel.edges),
        recesses=tuple(replace(r, outline=mirrored(r.outline)) for r in panel.recesses),
        label=(-panel.label[0], panel.label[1]),
        hit=mirrored(panel.hit),
    )


def _on_rim(hub: Point, radius: float, v: float, towards: int) -> float:
    """Where the circle round `hub` crosses the line `v`: ahead of the hub (-1) or behind it (1)."""
    return float(hub[1] + towards * (radius * radius - (v - hub[0]) ** 2) ** 0.5)


def _swage(v: float, u0: float, u1: float) -> Line:
    """A pressed line along a door, slightly bent in the middle."""
    bend = (u0 + u1) / 2
    return (
        (v, u0 + 9),
        (v - 2, bend),
        (v, u1 - 9),
        (v + 4, u1 - 9),
        (v + 2, bend),
        (v + 4, u0 + 9),
    )


def _rear_arch(b: Body, s: Stations) -> tuple[float, float]:
    hub, radius = (b.sill_line + 10, s.rear_axle), b.wheel + 2
    return _on_rim(hub, radius, b.sill_line, -1), _on_rim(hub, radius, b.sill_line, 1)


def _quarter_end(b: Body, s: Stations) -> float:
    if b.bed:
        return s.tail[1] - 4
    return s.tail[0] + b.tail * (0.62 if b.quarter_top < 90 else 0.86)


def _quarter_front(b: Body, s: Stations, u0: float, near: float, far: float) -> tuple[Edge, ...]:
    """Door line and wheel arch; a long quarter or bed side has a bottom run before the arch."""
    w, low = b.window_line, b.sill_line
    hub, radius = (low + 10, s.rear_axle), b.wheel + 2
    if near - u0 > 14:
        return (
            Edge("front", "door line", line((w, u0), (low, u0))),
            Edge("bottom", "bottom edge", line((low, u0), (low, near))),
            Edge("arch", "wheel arch", arc(hub, radius, (low, near), (low, far))),
        )
    start = (low - 22, _on_rim(hub, radius, low - 22, -1))
    return (
        Edge("front", "door line", line((w, u0), start)),
        Edge("arch", "wheel arch", arc(hub, radius, start, (low, far))),
    )


def _quarter_rear(b: Body, u1: float) -> Line:
    low, top = b.sill_line, b.quarter_top
    return curve((low - 2, u1 - 6), (low - 20, u1 + 1), (top + 30, u1), (top + 2, u1 - b.tail_slope))


def _quarter_upper(b: Body, u0: float, u1: float, reaches_roof: bool) -> tuple[Edge, ...]:
    top, w, shoulder = b.quarter_top, b.window_line, u0 + 18
    if not reaches_roof:
        return (Edge("top", "top edge", line((top + 2, u1 - b.tail_slope), (w, u0))),)
    window = curve((top, shoulder), (top + 12, shoulder - 3), (w - 10, u0 + 4), (w, u0), 8)
    return (
        Edge("top", "roof line", line((top + 2, u1 - b.tail_slope), (top, shoulder))),
        Edge("window", "window line", window),
    )
