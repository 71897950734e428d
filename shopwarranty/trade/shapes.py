"""Points and lines in the plane: what panels are made of. One unit is one pixel on a phone 390 px wide."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import atan2, cos, hypot, pi, sin

Point = tuple[float, float]
Line = tuple[Point, ...]


def line(*points: Point) -> Line:
    return points


def curve(a: Point, b: Point, c: Point, d: Point, steps: int = 14) -> Line:
    """A cubic Bezier curve as `steps` + 1 points, ends included."""

    def at(t: float, axis: int) -> float:
        s = 1 - t
        return s**3 * a[axis] + 3 * s * s * t * b[axis] + 3 * s * t * t * c[axis] + t**3 * d[axis]

    return tuple((at(k / steps, 0), at(k / steps, 1)) for k in range(steps + 1))


def arc(centre: Point, radius: float, start: Point, end: Point, steps: int = 20) -> Line:
    """Points round `centre` from the direction of `start` to that of `end`, both angles taken in 0..2 pi."""
    first = atan2(start[1] - centre[1], start[0] - centre[0]) % (2 * pi)
    last = atan2(end[1] - centre[1], end[0] - centre[0]) % (2 * pi)
    return tuple(on_circle(centre, radius, first + (last - first) * k / steps) for k in range(steps + 1))


def on_circle(centre: Point, radius: float, angle: float) -> Point:
    return (centre[0] + radius * cos(angle), centre[1] + radius * sin(angle))


def ring(centre: Point, radius: float, steps: int = 40) -> Line:
    return tuple(on_circle(centre, radius, 2 * pi * k / steps) for k in range(steps))


def box(v0: float, v1: float, u0: float, u1: float) -> Line:
    return ((v0, u0), (v1, u0), (v1, u1), (v0, u1))


def rounded_box(v0: float, v1: float, u0: float, u1: float, radius: float) -> Line:
    corners = (
        ((v1 - radius, u0 + radius), -pi / 2),
        ((v1 - radius, u1 - radius), 0.0),
        ((v0 + radius, u1 - radius), pi / 2),
        ((v0 + radius, u0 + radius), pi),
    )
    return tuple(
        on_circle(centre, radius, start + pi / 2 * k / 5) for centre, start in corners for k in range(6)
    )


def capsule_along(v: float, u0: float, u1: float, radius: float) -> Line:
    """A slot lying along the vehicle, `v` its centre line."""
    near = tuple(on_circle((v, u0 + radius), radius, pi + pi * k / 8) for k in range(9))
    far = tuple(on_circle((v, u1 - radius), radius, pi * k / 8) for k in range(9))
    return near + far


def capsule_across(v0: float, v1: float, u: float, radius: float) -> Line:
    """A slot lying across the vehicle, `u` its centre line."""
    near = tuple(on_circle((v0 + radius, u), radius, -pi / 2 - pi * k / 8) for k in range(9))
    far = tuple(on_circle((v1 - radius, u), radius, pi / 2 - pi * k / 8) for k in range(9))
    return near + far


def mirrored(points: Line) -> Line:
    """The same shape on the other side of the vehicle's centre line."""
    return tuple((-v, u) for v, u in points)


def distance(a: Point, b: Point) -> float:
    return hypot(b[0] - a[0], b[1] - a[1])


def length(points: Sequence[Point]) -> float:
    return sum(distance(a, b) for a, b in pairwise(points))


def signed_area(points: Sequence[Point]) -> float:
    following = [*points[1:], points[0]]
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(points, following, strict=True)) / 2


def middle_of(points: Sequence[Point]) -> Point:
    return (sum(x for x, _ in points) / len(points), sum(y for _, y in points) / len(points))


def inside(point: Point, polygon: Sequence[Point]) -> bool:
    """Even-odd rule."""
    hit = False
    x, y = point
    for (x0, y0), (x1, y1) in zip(polygon, [*polygon[1:], polygon[0]], strict=True):
        if (y0 > y) != (y1 > y) and x < (x1 - x0) * (y - y0) / (y1 - y0) + x0:
            hit = not hit
    return hit
