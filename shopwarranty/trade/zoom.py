"""One panel, large, as the installer stands in front of it.

Drawn 358 units wide. Sides are seen from beside them, front bumper and bonnet from in front, the tail from
behind, the roof from above. The girth is let out against the overview, slim pieces further still.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from shopwarranty.trade import catalogue
from shopwarranty.trade.drawing import make_stroke
from shopwarranty.trade.labels import Named, frame_of, place_labels
from shopwarranty.trade.panels import Panel, PlaceKind, Side
from shopwarranty.trade.shapes import Line, Point, distance, length, middle_of
from shopwarranty.trade.shelf import (
    SEEN_FROM_FRONT,
    AddedPanel,
    AddedPlace,
    capsule_at,
    plain_piece,
    spot_on,
    turned,
)
from shopwarranty.trade.strokes import (
    clearances,
    closed_path,
    inset,
    open_path,
    rounded_outline,
    stroke_line,
    turning,
    walk,
)
from shopwarranty.trade.zoom_parts import HIT_WIDTH, Box, Disc, ZoomEdge, ZoomPanel, ZoomRecess

WIDTH = 358.0
MARGIN = 20.0
LET_OUT = 1.42
LEAST_HEIGHT, MOST_HEIGHT = 190.0, 400.0
INSET = 13.0
WEIGHT = 5.2
TARGET = 46.0
SHORT = 50.0  # a shorter stroke is tapped on a disc
REACH = 36.0  # how far inwards an edge is tapped, where there is room
ADDED_LINE = 60.0
ADDED_HALF = (28.0, 14.0)

BESIDE_LEFT = "As you stand beside it. Front of the vehicle to the left."
BESIDE_RIGHT = "As you stand beside it. Front of the vehicle to the right."
IN_FRONT = "As you stand in front of the vehicle."
FROM_ABOVE = "From above. Front of the vehicle at the top."
BEHIND = "As you stand behind the vehicle."
NOT_TO_SHAPE = "A panel the shop added, not drawn to shape."
STANDING_WORDS = (BESIDE_LEFT, BESIDE_RIGHT, IN_FRONT, FROM_ABOVE, BEHIND, NOT_TO_SHAPE)

Names = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class _Fit:
    """From the turned panel to the page."""

    kx: float
    ky: float
    dx: float
    dy: float
    height: float

    def place(self, panel: Panel, points: Line) -> Line:
        seen = (_let_out(panel, point) for point in points)
        return tuple((x * self.kx + self.dx, y * self.ky + self.dy) for x, y in seen)


def zoom(
    body_key: str,
    panel_key: str,
    names: Mapping[str, str] | None = None,
    added_places: Sequence[AddedPlace] = (),
) -> ZoomPanel:
    """A panel of the catalogue, with the places the shop added to it.

    `names` are the words to place, by place key; what is missing there is named as in the catalogue. Raises
    `UnknownBody` or `UnknownPanel`.
    """
    panel = catalogue.panel(body_key, panel_key)
    own = tuple(place for place in added_places if place.panel_key == panel_key)
    return _zoom(panel, tuple(sorted((names or {}).items())), own)


def zoom_added(panel: AddedPanel, names: Mapping[str, str] | None = None) -> ZoomPanel:
    """A panel only the shop knows: a plain piece with the edges and recesses the shop named."""
    return _zoom_added(panel, tuple(sorted((names or {}).items())))


def standing(panel: Panel) -> str:
    if panel.side is not Side.MIDDLE:
        return BESIDE_LEFT if panel.side is Side.LEFT else BESIDE_RIGHT
    if panel.kind in SEEN_FROM_FRONT:
        return IN_FRONT
    return FROM_ABOVE if panel.kind == "roof" else BEHIND


@lru_cache(maxsize=512)
def _zoom(panel: Panel, names: Names, added: tuple[AddedPlace, ...]) -> ZoomPanel:
    fit, words = _fit(panel), dict(names)
    lines = [fit.place(panel, edge.points) for edge in panel.edges]
    areas = [fit.place(panel, recess.outline) for recess in panel.recesses]
    marks = [(place, fit.place(panel, (spot_on(panel, place.spot),))[0]) for place in added]
    return ZoomPanel(
        panel.key,
        panel.name,
        panel.name_us,
        standing(panel),
        WIDTH,
        fit.height,
        rounded_outline(lines, panel.corner * fit.kx * 0.9),
        (*_edges(panel, lines), *(_added_edge(p, at) for p, at in marks if p.kind is PlaceKind.EDGE)),
        (
            *(_recess(r.key, r.name, r.name_us, a) for r, a in zip(panel.recesses, areas, strict=True)),
            *(_added_recess(p, at) for p, at in marks if p.kind is PlaceKind.RECESS),
        ),
        place_labels(
            fit.place(panel, panel.outline),
            [Named(e.key, words.get(e.key, e.name), a) for e, a in zip(panel.edges, lines, strict=True)],
            [Named(r.key, words.get(r.key, r.short), a) for r, a in zip(panel.recesses, areas, strict=True)],
            [Named(p.key, words.get(p.key, p.name), capsule_at(at, ADDED_HALF)) for p, at in marks],
            turning(lines),
        ),
    )


@lru_cache(maxsize=128)
def _zoom_added(panel: AddedPanel, names: Names) -> ZoomPanel:
    words, size = dict(names), (WIDTH - 2 * MARGIN, LEAST_HEIGHT)
    piece = plain_piece(panel, MARGIN, MARGIN, size, INSET)
    edges = [_edge(p.key, p.name, p.name, line, line, 1) for p, line in piece.edges]
    return ZoomPanel(
        panel.key,
        panel.name,
        panel.name,
        NOT_TO_SHAPE,
        WIDTH,
        size[1] + 2 * MARGIN,
        closed_path(piece.outline),
        tuple(edges),
        tuple(_recess(p.key, p.name, p.name, area, added=True) for p, area in piece.recesses),
        place_labels(
            piece.outline,
            [Named(p.key, words.get(p.key, p.name), inset(line, -INSET, 1)) for p, line in piece.edges],
            [Named(p.key, words.get(p.key, p.name), area) for p, area in piece.recesses],
            [],
            1,
        ),
    )


def _let_out(panel: Panel, point: Point) -> Point:
    """Turned, with the girth let out."""
    x, y = turned(panel, point)
    return (x * LET_OUT, y) if panel.side is Side.MIDDLE else (x, y * LET_OUT)


def _fit(panel: Panel) -> _Fit:
    """Over the whole width, but never lower than LEAST_HEIGHT nor higher than MOST_HEIGHT."""
    seen = frame_of(_let_out(panel, point) for point in panel.outline)
    wide, high = seen.right - seen.left, seen.bottom - seen.top
    kx = min((WIDTH - 2 * MARGIN) / wide, MOST_HEIGHT / high)
    ky = max(kx, LEAST_HEIGHT / high)
    dx = (WIDTH - wide * kx) / 2 - seen.left * kx
    return _Fit(kx, ky, dx, MARGIN - seen.top * ky, high * ky + 2 * MARGIN)


def _edges(panel: Panel, lines: list[Line]) -> list[ZoomEdge]:
    turn, found = turning(lines), []
    for i, (edge, clear) in enumerate(zip(panel.edges, clearances(lines, INSET, 14), strict=True)):
        stroke = stroke_line(lines[i], clear, INSET, turn)
        hit = inset(lines[i], _reach(i, lines) - HIT_WIDTH / 2, turn)
        found.append((length(lines[i]), _edge(edge.key, edge.name, edge.name_us, stroke, hit, turn)))
    return [edge for _, edge in sorted(found, key=lambda pair: -pair[0])]


def _reach(index: int, lines: list[Line]) -> float:
    """How far inwards an edge is tapped: at most half the way to the edges opposite."""
    count = len(lines)
    near = {index, (index - 1) % count, (index + 1) % count}
    far = [point for i, line in enumerate(lines) if i not in near for point in walk(line, 6)]
    if not far:
        return REACH
    along = walk(lines[index], 12)[1:-1] or lines[index]
    gaps = sorted(min(distance(point, other) for other in far) for point in along)
    return min(REACH, gaps[len(gaps) // 3] / 2)


def _edge(key: str, name: str, name_us: str, line: Line, hit: Line, turn: int) -> ZoomEdge:
    x, y = middle_of(line)
    disc = Disc(x, y, TARGET * 0.71) if length(line) < SHORT else None
    return ZoomEdge(make_stroke(key, name, name_us, line, WEIGHT, turn), open_path(hit), hit, disc)


def _added_edge(place: AddedPlace, at: Point) -> ZoomEdge:
    line = ((at[0] - ADDED_LINE / 2, at[1]), (at[0] + ADDED_LINE / 2, at[1]))
    stroke = make_stroke(place.key, place.name, place.name, line, WEIGHT, 1)
    return ZoomEdge(stroke, open_path(line), line, added=True)


def _recess(key: str, name: str, name_us: str, area: Line, *, added: bool = False) -> ZoomRecess:
    """The area to tap is never smaller than TARGET either way."""
    frame = frame_of(area)
    more_x = max(0.0, TARGET - (frame.right - frame.left)) / 2
    more_y = max(0.0, TARGET - (frame.bottom - frame.top)) / 2
    grown = frame.grown(more_x, more_y)
    hit = Box(grown.left, grown.top, grown.right - grown.left, grown.bottom - grown.top)
    return ZoomRecess(key, name, name_us, closed_path(area), hit, added)


def _added_recess(place: AddedPlace, at: Point) -> ZoomRecess:
    return _recess(place.key, place.name, place.name, capsule_at(at, ADDED_HALF), added=True)
