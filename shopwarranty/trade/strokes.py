"""Lines into path strings: rounded outlines, inset edge strokes, scallops. Points are (x, y) on the page."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import acos, hypot, tan

from shopwarranty.trade.shapes import Line, Point, distance, length, signed_area


def number(value: float) -> str:
    return "0" if abs(value) < 0.05 else f"{value:.1f}".rstrip("0").rstrip(".")


def open_path(points: Sequence[Point]) -> str:
    return "M" + _points(points)


def closed_path(points: Sequence[Point]) -> str:
    return open_path(points) + "Z"


def circle_path(centre: Point, radius: float) -> str:
    x, y, r = number(centre[0] - radius), number(centre[1]), number(radius)
    across = number(radius * 2)
    return f"M{x} {y}a{r} {r} 0 1 0 {across} 0a{r} {r} 0 1 0 -{across} 0Z"


def turning(edges: Sequence[Line]) -> int:
    """1 when the outline made of `edges` runs clockwise on the page, else -1: which way is inwards."""
    return 1 if signed_area([point for edge in edges for point in edge]) > 0 else -1


def rounded_outline(edges: Sequence[Line], radius: float) -> str:
    """Closed path; every corner between two edges is rounded, on short edges by less than `radius`."""
    cuts = [_trimmed_by(edge, min(radius, length(edge) * 0.4)) for edge in edges]
    parts = ["M"]
    for i, cut in enumerate(cuts):
        corner, following = edges[i][-1], cuts[(i + 1) % len(cuts)][0]
        parts.append(("L" if i else "") + _points(cut))
        parts.append("Q" + " ".join(_pair(p) for p in (corner, following)))
    return "".join(parts) + "Z"


def trimmed(points: Line, start: float, end: float) -> Line:
    """The line without `start` at its beginning and `end` at its end; it never vanishes."""
    shorter = _cut_start(points, start)
    return _cut_start(shorter[::-1], end)[::-1]


def inset(points: Line, by: float, turn: int) -> Line:
    """Every point moved inwards, at right angles to the line there."""
    last = len(points) - 1
    moved = []
    for i, (x, y) in enumerate(points):
        nx, ny = _normal(points[max(i - 1, 0)], points[min(i + 1, last)])
        moved.append((x + nx * by * turn, y + ny * by * turn))
    return tuple(moved)


def walk(points: Line, step: float) -> Line:
    """Points about `step` apart along the line, evenly spaced, both ends included."""
    total = length(points)
    parts = max(2, round(total / step))
    spaced, gone = [points[0]], 0.0
    for a, b in pairwise(points):
        piece = distance(a, b)
        while piece and len(spaced) <= parts and gone + piece >= total / parts * len(spaced) - 1e-6:
            t = (total / parts * len(spaced) - gone) / piece
            spaced.append((a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t))
        gone += piece
    return tuple(spaced) if len(spaced) > parts else (*spaced, points[-1])


def scallops(points: Line, step: float, rise: float, turn: int) -> str:
    """Film that has let go and stands off in waves."""
    steps = walk(points, step)
    parts = ["M" + _pair(steps[0])]
    for a, b in pairwise(steps):
        nx, ny = _normal(a, b)
        crest = ((a[0] + b[0]) / 2 + nx * rise * 2 * turn, (a[1] + b[1]) / 2 + ny * rise * 2 * turn)
        parts.append(f"Q{_pair(crest)} {_pair(b)}")
    return "".join(parts)


def clearances(edges: Sequence[Line], by: float, least: float) -> tuple[tuple[float, float], ...]:
    """How far each edge's stroke, inset `by`, stays off its two corners so that neighbours never cross."""
    at = [max(least, _corner(edges[i - 1], edge, by) + least * 0.4) for i, edge in enumerate(edges)]
    return tuple((at[i], at[(i + 1) % len(at)]) for i in range(len(at)))


def stroke_line(points: Line, clearance: tuple[float, float], by: float, turn: int) -> Line:
    """The inset line an edge is drawn as."""
    most = length(points) * 0.35
    return inset(trimmed(points, min(clearance[0], most), min(clearance[1], most)), by, turn)


def _corner(before: Line, after: Line, by: float) -> float:
    (x0, y0), (x1, y1), (x2, y2) = before[-2], before[-1], after[1]
    u, w = (x0 - x1, y0 - y1), (x2 - x1, y2 - y1)
    cosine = (u[0] * w[0] + u[1] * w[1]) / ((hypot(*u) or 1) * (hypot(*w) or 1))
    return by / max(tan(acos(max(-1.0, min(1.0, cosine))) / 2), 0.25)


def _normal(a: Point, b: Point) -> Point:
    dx, dy = b[0] - a[0], b[1] - a[1]
    size = hypot(dx, dy) or 1
    return (-dy / size, dx / size)


def _trimmed_by(points: Line, by: float) -> Line:
    return trimmed(points, by, by)


def _cut_start(points: Line, by: float) -> Line:
    rest = list(points)
    while len(rest) > 2 and by >= distance(rest[0], rest[1]):
        by -= distance(rest[0], rest[1])
        rest.pop(0)
    (x0, y0), (x1, y1) = rest[0], rest[1]
    t = min(by / (distance(rest[0], rest[1]) or 1), 0.45)
    return ((x0 + (x1 - x0) * t, y0 + (y1 - y0) * t), *rest[1:])


def _points(points: Sequence[Point]) -> str:
    return "L".join(_pair(p) for p in points)


def _pair(point: Point) -> str:
    return f"{number(point[0])} {number(point[1])}"
