"""What a shop adds: whole panels, laid on a shelf below the vehicle, and places on known panels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import hypot

from shopwarranty.trade.panels import Panel, PlaceKind, Side
from shopwarranty.trade.shapes import Line, Point, inside, rounded_box

PIECE_WIDTH, PIECE_HEIGHT = 114.0, 48.0
PER_ROW = 3
PIECE_GAP = 12.0
SHELF_INSET = 4.0
CAPTION_HEIGHT = 22.0

# The nine places of a zoomed panel, as it is turned there: row by row from the top left.
SPOTS: tuple[str, ...] = (
    "top left",
    "top middle",
    "top right",
    "middle left",
    "middle",
    "middle right",
    "bottom left",
    "bottom middle",
    "bottom right",
)
CLEAR = 14.0
SEEN_FROM_FRONT = frozenset({"front-bumper", "bonnet"})


@dataclass(frozen=True, slots=True)
class AddedPlace:
    """An edge or recess a shop added. On a known panel `spot` is 1 to 9, see SPOTS."""

    panel_key: str
    key: str
    name: str
    kind: PlaceKind = PlaceKind.EDGE
    spot: int = 5


@dataclass(frozen=True, slots=True)
class AddedPanel:
    """A panel only the shop knows, with the edges and recesses the shop named."""

    key: str
    name: str
    places: tuple[AddedPlace, ...] = ()

    @property
    def edges(self) -> tuple[AddedPlace, ...]:
        return tuple(p for p in self.places if p.kind is PlaceKind.EDGE)

    @property
    def recesses(self) -> tuple[AddedPlace, ...]:
        return tuple(p for p in self.places if p.kind is PlaceKind.RECESS)


@dataclass(frozen=True, slots=True)
class ShelfPiece:
    panel: AddedPanel
    outline: Line
    label: Point
    edges: tuple[tuple[AddedPlace, Line], ...]
    recesses: tuple[tuple[AddedPlace, Line], ...]


@dataclass(frozen=True, slots=True)
class Shelf:
    pieces: tuple[ShelfPiece, ...]
    caption: Point | None
    bottom: float


def place_pieces(panels: Sequence[AddedPanel], top: float) -> Shelf:
    """Three to a row below `top`; an empty shelf takes no room."""
    if not panels:
        return Shelf((), None, top)
    first_row = top + CAPTION_HEIGHT
    pieces = tuple(
        plain_piece(
            panel,
            PIECE_GAP + (i % PER_ROW) * (PIECE_WIDTH + PIECE_GAP),
            first_row + (i // PER_ROW) * (PIECE_HEIGHT + PIECE_GAP),
            (PIECE_WIDTH, PIECE_HEIGHT),
            SHELF_INSET,
        )
        for i, panel in enumerate(panels)
    )
    rows = -(-len(pieces) // PER_ROW)
    return Shelf(pieces, (PIECE_GAP, top + 12), first_row + rows * (PIECE_HEIGHT + PIECE_GAP))


def plain_piece(panel: AddedPanel, x: float, y: float, size: tuple[float, float], by: float) -> ShelfPiece:
    """A rounded rectangle with its edges' strokes `by` inside, first top, bottom, left, right."""
    wide, high = size
    recesses = panel.recesses
    row = y + high * 0.72
    spots = [(x + wide * (i + 1) / (len(recesses) + 1), row) for i in range(len(recesses))]
    half = (by * 2.2, by * 1.4)
    return ShelfPiece(
        panel,
        rounded_box(x, x + wide, y, y + high, min(6.0, high / 4)),
        (x + wide / 2, y + high * (0.36 if recesses else 0.5)),
        tuple(zip(panel.edges, edge_lines(len(panel.edges), x, y, size, by), strict=True)),
        tuple((p, capsule_at(at, half)) for p, at in zip(recesses, spots, strict=True)),
    )


def capsule_at(at: Point, half: tuple[float, float]) -> Line:
    """A slot round `at`, half as wide and half as high as given."""
    (x, y), (half_x, half_y) = at, half
    return rounded_box(x - half_x, x + half_x, y - half_y, y + half_y, min(half))


def edge_lines(count: int, x: float, y: float, size: tuple[float, float], by: float) -> tuple[Line, ...]:
    """`count` lines clockwise round a rectangle: top, bottom, left, right; more share top and bottom."""
    sides = [i if i < 4 else i % 2 for i in range(count)]
    return tuple(
        _side_line(side, sides[:i].count(side), sides.count(side), (x, y), size, by)
        for i, side in enumerate(sides)
    )


def spot_on(panel: Panel, spot: int) -> Point:
    """Where a shop-added place lies, as (v, u): the spot of the zoomed view, moved in until it is clear.

    Raises ValueError for a spot other than 1 to 9.
    """
    if not 1 <= spot <= len(SPOTS):
        raise ValueError(f"spot {spot} is not one of 1 to {len(SPOTS)}")
    across, down = (spot - 1) % 3, (spot - 1) // 3
    wanted = _fraction_of(panel, (2 * across + 1) / 6, (2 * down + 1) / 6)
    steps = [_between(wanted, panel.label, k / 20) for k in range(21)]
    rooms = [_room(point, panel.outline) for point in steps]
    enough = min(CLEAR, max(rooms))
    return next(point for point, room in zip(steps, rooms, strict=True) if room >= enough)


def turned(panel: Panel, point: Point) -> Point:
    """(v, u) as the installer sees it: sides as you stand beside them, front pieces from in front."""
    v, u = point
    if panel.side is Side.LEFT:
        return (u, abs(v))
    if panel.side is Side.RIGHT:
        return (-u, abs(v))
    return (-v, -u) if panel.kind in SEEN_FROM_FRONT else (v, u)


def turned_back(panel: Panel, point: Point) -> Point:
    x, y = point
    if panel.side is Side.LEFT:
        return (-y, x)
    if panel.side is Side.RIGHT:
        return (y, -x)
    return (-x, -y) if panel.kind in SEEN_FROM_FRONT else (x, y)


def _fraction_of(panel: Panel, right: float, down: float) -> Point:
    seen = [turned(panel, point) for point in panel.outline]
    x0, x1 = min(x for x, _ in seen), max(x for x, _ in seen)
    y0, y1 = min(y for _, y in seen), max(y for _, y in seen)
    return turned_back(panel, (x0 + (x1 - x0) * right, y0 + (y1 - y0) * down))


def _between(a: Point, b: Point, t: float) -> Point:
    return (a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t)


def _room(point: Point, outline: Line) -> float:
    """Distance to the nearest corner point or line of the outline; negative outside."""
    nearest = min(_to_segment(point, a, b) for a, b in pairwise((*outline, outline[0])))
    return nearest if inside(point, outline) else -nearest


def _to_segment(p: Point, a: Point, b: Point) -> float:
    dx, dy = b[0] - a[0], b[1] - a[1]
    squared = dx * dx + dy * dy
    t = max(0.0, min(1.0, ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / squared)) if squared else 0.0
    return hypot(p[0] - a[0] - t * dx, p[1] - a[1] - t * dy)


def _side_line(side: int, nth: int, of: int, at: Point, size: tuple[float, float], by: float) -> Line:
    (x, y), (wide, high) = at, size
    corner = by * 2
    run = ((wide if side < 2 else high) - 2 * corner) / of
    first, last = corner + nth * run + (nth > 0) * by, corner + (nth + 1) * run
    match side:
        case 0:
            return ((x + first, y + by), (x + last, y + by))
        case 1:
            return ((x + last, y + high - by), (x + first, y + high - by))
        case 2:
            return ((x + by, y + last), (x + by, y + first))
        case _:
            return ((x + wide - by, y + first), (x + wide - by, y + last))
