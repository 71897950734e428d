"""Where names go in the zoomed panel: along their edge or beside their recess, clear of everything else.

By rule, since words differ in length from language to language; a name that finds no room is left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import hypot

from shopwarranty.trade.shapes import Line, Point, inside, length, middle_of
from shopwarranty.trade.strokes import walk

SIZE = 14.0
PER_LETTER = SIZE * 0.52
STROKE_INSET = 13.0
WIDE_RECESS = 110.0
# Along an edge in twentieths of its length: the middle first, then outwards.
TRIES = (10, 8, 12, 6, 14, 4, 16)


@dataclass(frozen=True, slots=True)
class Label:
    """`anchor` is how `x` is meant, in SVG's words: start, middle or end. `y` is the base line."""

    place_key: str
    text: str
    x: float
    y: float
    anchor: str = "middle"


@dataclass(frozen=True, slots=True)
class Named:
    """A place on the page: an edge's line, a recess's outline, or the frame of a mark the shop added."""

    key: str
    text: str
    points: Line


@dataclass(frozen=True, slots=True)
class Frame:
    left: float
    top: float
    right: float
    bottom: float

    def grown(self, x: float, y: float) -> Frame:
        return Frame(self.left - x, self.top - y, self.right + x, self.bottom + y)

    def meets(self, other: Frame) -> bool:
        across = self.left < other.right and other.left < self.right
        return across and self.top < other.bottom and other.top < self.bottom

    def holds(self, point: Point) -> bool:
        return self.left < point[0] < self.right and self.top < point[1] < self.bottom

    @property
    def corners(self) -> tuple[Point, ...]:
        middle = (self.left + self.right) / 2
        return tuple((x, y) for x in (self.left, middle, self.right) for y in (self.top, self.bottom))


def frame_of(points: Iterable[Point]) -> Frame:
    xs, ys = zip(*points, strict=True)
    return Frame(min(xs), min(ys), max(xs), max(ys))


def place_labels(
    outline: Line, edges: Sequence[Named], recesses: Sequence[Named], added: Sequence[Named], turn: int
) -> tuple[Label, ...]:
    """Recesses first, since their names have least choice, then added marks, then edges, long ones first."""
    taken = [frame_of(place.points).grown(4, 4) for place in (*recesses, *added)]
    found: list[Label] = []
    for place in recesses:
        _keep(_beside(place, outline, taken), found, taken)
    for place in added:
        _keep(_under(place, taken), found, taken)
    for edge in sorted(edges, key=lambda e: -length(e.points)):
        others = [p for other in edges if other is not edge for p in walk(other.points, 8)]
        _keep(_along(edge, outline, others, taken, turn), found, taken)
    return tuple(found)


def _keep(placed: tuple[Label, Frame] | None, found: list[Label], taken: list[Frame]) -> None:
    if placed:
        found.append(placed[0])
        taken.append(placed[1])


def _along(
    edge: Named, outline: Sequence[Point], others: Sequence[Point], taken: Sequence[Frame], turn: int
) -> tuple[Label, Frame] | None:
    steps = walk(edge.points, length(edge.points) / 20)
    wide = len(edge.text) * PER_LETTER
    for k in TRIES:
        if k + 1 >= len(steps):
            continue
        x, y = _beside_line(steps[k - 1], steps[k], steps[k + 1], wide, turn)
        frame = Frame(x - wide / 2, y - SIZE / 2, x + wide / 2, y + SIZE / 2)
        if _is_clear(frame, outline, others, taken):
            return Label(edge.key, edge.text, x, y + SIZE * 0.35), frame
    return None


def _beside_line(a: Point, at: Point, b: Point, wide: float, turn: int) -> Point:
    """The middle of a text of this width, just inside the stroke."""
    size = hypot(b[0] - a[0], b[1] - a[1]) or 1
    nx, ny = -(b[1] - a[1]) / size * turn, (b[0] - a[0]) / size * turn
    off = STROKE_INSET + 10 + abs(nx) * wide / 2 + abs(ny) * SIZE / 2
    return (at[0] + nx * off, at[1] + ny * off)


def _is_clear(
    frame: Frame, outline: Sequence[Point], others: Sequence[Point], taken: Sequence[Frame]
) -> bool:
    around = frame.grown(22, 20)
    if any(around.holds(point) for point in others):
        return False
    if not all(inside(corner, outline) for corner in frame.grown(8, 8).corners):
        return False
    return not any(frame.grown(6, 4).meets(other) for other in taken)


def _beside(recess: Named, outline: Sequence[Point], taken: Sequence[Frame]) -> tuple[Label, Frame] | None:
    """Above or below a wide recess, else left of it, else right of it; wherever it is free first."""
    area, wide = frame_of(recess.points), len(recess.text) * PER_LETTER
    x, y = (area.left + area.right) / 2, middle_of(recess.points)[1]
    above = Frame(x - wide / 2, area.top - 20, x + wide / 2, area.top - 4)
    below = Frame(x - wide / 2, area.bottom + 4, x + wide / 2, area.bottom + 20)
    before = Frame(area.left - 10 - wide, y - 8, area.left - 10, y + 8)
    after = Frame(area.right + 10, y - 8, area.right + 10 + wide, y + 8)
    over = (above, below) if area.right - area.left >= WIDE_RECESS else ()
    for frame in (*over, before, after):
        if _is_free(frame, outline, taken):
            return _in_frame(recess, frame, area), frame
    return None


def _in_frame(recess: Named, frame: Frame, area: Frame) -> Label:
    """Set against the recess: its end towards it on the left, its start on the right."""
    base = frame.bottom - 3
    if frame.right <= area.left:
        return Label(recess.key, recess.text, frame.right, base, "end")
    if frame.left >= area.right:
        return Label(recess.key, recess.text, frame.left, base, "start")
    return Label(recess.key, recess.text, (frame.left + frame.right) / 2, base)


def _is_free(frame: Frame, outline: Sequence[Point], taken: Sequence[Frame]) -> bool:
    within = all(inside(corner, outline) for corner in frame.grown(4, 0).corners)
    return within and not any(frame.meets(other) for other in taken)


def _under(mark: Named, taken: Sequence[Frame]) -> tuple[Label, Frame] | None:
    """Under a mark the shop added, or over it; inside or not, since its name is the shop's own."""
    area, wide = frame_of(mark.points), len(mark.text) * PER_LETTER
    x = (area.left + area.right) / 2
    for top in (area.bottom + 6, area.top - 6 - SIZE):
        frame = Frame(x - wide / 2, top, x + wide / 2, top + SIZE)
        if not any(frame.meets(other) for other in taken):
            return Label(mark.key, mark.text, x, top + SIZE * 0.8), frame
    return None
