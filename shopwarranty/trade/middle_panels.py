"""The panels across the centre line: bumpers, bonnet, roof and tail."""

from __future__ import annotations

from shopwarranty.trade.bodies import Body, PartName, Stations
from shopwarranty.trade.panels import Edge, Panel, Recess, Side
from shopwarranty.trade.shapes import (
    Line,
    box,
    capsule_across,
    curve,
    mirrored,
    rounded_box,
)

BUMPER_HALF = 94.0
SIDES_AND_ENDS = ("leading edge", "right edge", "trailing edge", "left edge")
TAIL_EDGES = ("top edge", "right edge", "bottom edge", "left edge")


def crossing(
    half_front: float, half_rear: float, span: tuple[float, float], bow: float, stern: float
) -> tuple[Line, Line, Line, Line]:
    """Leading, right, trailing, left line; leading bows forward by `bow`, trailing by `stern`."""
    f, r, (u0, u1) = half_front, half_rear, span
    wide = f + (r - f) * 0.5 + 1.5
    third, two_thirds = u0 + (u1 - u0) * 0.35, u0 + (u1 - u0) * 0.7
    front, back = u0 + bow, u1 + stern
    leading = curve((-f, front), (-f * 0.55, u0 - bow * 0.35), (f * 0.55, u0 - bow * 0.35), (f, front))
    right = curve((f, front), (wide, third), (wide, two_thirds), (r, back))
    trailing = curve((r, back), (r * 0.5, u1 - stern * 0.35), (-r * 0.5, u1 - stern * 0.35), (-r, back))
    left = curve((-r, back), (-wide, two_thirds), (-wide, third), (-f, front))
    return leading, right, trailing, left


def middle_panel(
    part: PartName,
    lines: tuple[Line, Line, Line, Line],
    span: tuple[float, float],
    names: tuple[str, str, str, str] = SIDES_AND_ENDS,
    recesses: tuple[Recess, ...] = (),
) -> Panel:
    keys = ("leading", "right", "trailing", "left")
    edges = tuple(Edge(key, name, points) for key, name, points in zip(keys, names, lines, strict=True))
    return Panel(
        part.key,
        part.key,
        part.name,
        part.name_us,
        Side.MIDDLE,
        edges,
        recesses,
        label=(0.0, (span[0] + span[1]) / 2),
    )


def bonnet(b: Body, s: Stations) -> Panel:
    u0, u1 = s.bonnet
    groove: Line = ((30, u0 + 18), (24, u1 - 16), (20, u1 - 16), (26, u0 + 18))
    grooves = (
        Recess("line-left", "left body line", mirrored(groove), short="body line"),
        Recess("line-right", "right body line", groove, short="body line"),
    )
    lines = crossing(b.half_middle + 1, b.half_middle, s.bonnet, 6, -2)
    return middle_panel(PartName("bonnet", "bonnet", "hood"), lines, s.bonnet, recesses=grooves)


def roof(b: Body, s: Stations) -> Panel:
    lines = crossing(b.half_middle - 4, b.half_middle - 5, s.roof, 5, -3)
    return middle_panel(PartName("roof", "roof", "roof"), lines, s.roof)


def tail(b: Body, s: Stations) -> Panel:
    """Tailgate, boot lid or rear doors; behind an open bed only its last part is a panel."""
    u0, u1 = s.tail[0] + b.bed, s.tail[1]
    depth = u1 - u0
    badge_u = u0 + max(6, min(20, depth - 54))
    badge = Recess("badge", "badge recess", rounded_box(-9, 9, badge_u, badge_u + 10, 4))
    plate = Recess("plate", "plate recess", rounded_box(-26, 26, u1 - 40, u1 - 18, 4))
    recesses = (plate, badge) if depth > 60 else (badge,)
    lines = crossing(b.half_middle - 3, b.half_middle + 2, (u0, u1), 3, -3)
    return middle_panel(b.tail_part, lines, (u0, u1), TAIL_EDGES, recesses)


def front_bumper(s: Stations) -> Panel:
    u = s.front_bumper[0] + 24
    pocket = capsule_across(58, 78, u, 5.5)
    pockets = (
        Recess("fog-left", "left fog lamp pocket", mirrored(pocket), short="fog lamp pocket"),
        Recess("fog-right", "right fog lamp pocket", pocket, short="fog lamp pocket"),
    )
    part = PartName("front-bumper", "front bumper", "front bumper")
    return bumper(part, s.front_bumper, facing=1, recesses=pockets)


def rear_bumper(s: Stations) -> Panel:
    return bumper(PartName("rear-bumper", "rear bumper", "rear bumper"), s.rear_bumper, facing=-1)


def bumper(
    part: PartName, span: tuple[float, float], facing: int, recesses: tuple[Recess, ...] = ()
) -> Panel:
    """`facing` is 1 for the front (the lip lies ahead) and -1 for the rear."""
    u0, u1 = span
    top_u, lip = (u1, u0) if facing == 1 else (u0, u1)
    h, s = BUMPER_HALF, facing
    shoulder, cheek, heel, toe = top_u - s * 6, top_u - s * 20, lip + s * 16, lip + s * 9
    top = curve((h, shoulder), (h * 0.5, top_u + s), (-h * 0.5, top_u + s), (-h, shoulder))
    lower = curve((-h + 16, toe), (-h * 0.4, lip - s * 3), (h * 0.4, lip - s * 3), (h - 16, toe))
    left = curve((-h, shoulder), (-h - 1, cheek), (-h + 4, heel), (-h + 16, toe))
    right = curve((h - 16, toe), (h - 4, heel), (h + 1, cheek), (h, shoulder))
    edges = (
        Edge("top", "top edge", top),
        Edge("left", "left end", left),
        Edge("bottom", "lower lip", lower),
        Edge("right", "right end", right),
    )
    return Panel(
        part.key,
        part.key,
        part.name,
        part.name_us,
        Side.MIDDLE,
        edges,
        recesses,
        label=(0.0, (u0 + u1) / 2),
        hit=box(-h - 6, h + 6, u0 - 4, u1 + 2),
    )
