"""The whole vehicle as drawing primitives: path strings and points, no markup and no colour.

One unit is one pixel on a phone 390 px wide. Whoever renders it chooses the look of each edge by its state
and asks the stroke for its layers; class names are the only thing shared with the style sheet.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import lru_cache

from shopwarranty.trade import catalogue
from shopwarranty.trade.layout import layout
from shopwarranty.trade.panels import Panel, PlaceKind, Side
from shopwarranty.trade.shapes import Line, Point
from shopwarranty.trade.shelf import AddedPanel, AddedPlace, ShelfPiece, capsule_at, place_pieces, spot_on
from shopwarranty.trade.strokes import (
    clearances,
    closed_path,
    number,
    open_path,
    rounded_outline,
    scallops,
    stroke_line,
    turning,
)

WIDTH = 390.0
CENTRE = WIDTH / 2
WEIGHT = 2.4
ADDED_HALF = (9.0, 5.0)


class Look(StrEnum):
    """How an edge is drawn: what became of it."""

    USUAL = "usual"
    CLEAN = "clean"
    LIFT = "lift"
    UNSEEN = "unseen"
    DIFFERS = "differs"


@dataclass(frozen=True, slots=True)
class Layer:
    """One path with its classes; the layers of a stroke are drawn in order."""

    css: str
    path: str


@dataclass(frozen=True, slots=True)
class Stroke:
    """An edge's line, and the scallops that stand on it when it has let go."""

    place_key: str
    name: str
    name_us: str
    line: str
    scallops: str

    def layers(self, look: Look | str) -> tuple[Layer, ...]:
        match Look(look):
            case Look.LIFT:
                return (Layer("e e-lift-base", self.line), Layer("e e-lift", self.scallops))
            case Look.DIFFERS:
                return (Layer("e e-dev", self.line), Layer("e e-dev-core", self.line))
            case plain:
                return (Layer(f"e e-{plain}", self.line),)


@dataclass(frozen=True, slots=True)
class RecessShape:
    """A closed area; `added` when the shop added the place itself."""

    place_key: str
    name: str
    name_us: str
    path: str
    kind: PlaceKind = PlaceKind.RECESS
    added: bool = False


@dataclass(frozen=True, slots=True)
class OverviewPanel:
    """`hit` is empty where the outline is large enough to tap. `label` is where a short text is centred."""

    key: str
    kind: str
    name: str
    name_us: str
    side: Side | None
    outline: str
    hit: str
    label: Point
    edges: tuple[Stroke, ...]
    recesses: tuple[RecessShape, ...]
    added: bool = False


@dataclass(frozen=True, slots=True)
class Overview:
    """Panels in walking order, also the order of drawing and tabbing; no `shelf_caption` without a shelf."""

    body_key: str
    width: float
    height: float
    wheels: tuple[str, ...]
    glass: tuple[str, ...]
    panels: tuple[OverviewPanel, ...]
    shelf_caption: Point | None

    @property
    def view_box(self) -> str:
        return f"0 0 {number(self.width)} {number(self.height)}"


def overview(
    body_key: str, added_panels: Sequence[AddedPanel] = (), added_places: Sequence[AddedPlace] = ()
) -> Overview:
    """The vehicle seen from above, front at the top, left on the left.

    `added_panels` lie on a shelf below the rear bumper; `added_places` are marked on the panels they belong
    to. Raises `UnknownBody`.
    """
    return _overview(body_key, tuple(added_panels), tuple(added_places))


@lru_cache(maxsize=256)
def _overview(
    body_key: str, added_panels: tuple[AddedPanel, ...], added_places: tuple[AddedPlace, ...]
) -> Overview:
    plan = layout(catalogue.body(body_key))
    shelf = place_pieces(added_panels, plan.length)
    return Overview(
        body_key,
        WIDTH,
        shelf.bottom,
        tuple(closed_path(_from_above(w)) for w in plan.wheels),
        tuple(closed_path(_from_above(g)) for g in plan.glass),
        (
            *(_with_added(_overview_panel(p), p, added_places) for p in plan.panels),
            *(_piece(p) for p in shelf.pieces),
        ),
        shelf.caption,
    )


def _from_above(points: Line) -> Line:
    return tuple((CENTRE + v, u) for v, u in points)


@lru_cache(maxsize=256)
def _overview_panel(panel: Panel) -> OverviewPanel:
    lines = [_from_above(edge.points) for edge in panel.edges]
    return OverviewPanel(
        panel.key,
        panel.kind,
        panel.name,
        panel.name_us,
        panel.side,
        rounded_outline(lines, panel.corner),
        closed_path(_from_above(panel.hit)) if panel.hit else "",
        _from_above((panel.label,))[0],
        _strokes(panel, lines),
        tuple(
            RecessShape(r.key, r.name, r.name_us, closed_path(_from_above(r.outline))) for r in panel.recesses
        ),
    )


def _strokes(panel: Panel, lines: list[Line]) -> tuple[Stroke, ...]:
    """Slim pieces carry their strokes closer to the edge."""
    by, least = (4.2, 4.5) if panel.corner > 4 else (2.8, 2.5)
    turn = turning(lines)
    return tuple(
        make_stroke(edge.key, edge.name, edge.name_us, stroke_line(line, clear, by, turn), WEIGHT, turn)
        for edge, line, clear in zip(panel.edges, lines, clearances(lines, by, least), strict=True)
    )


def make_stroke(key: str, name: str, name_us: str, line: Line, weight: float, turn: int) -> Stroke:
    waves = scallops(line, weight * 3, weight * 1.15, turn)
    return Stroke(key, name, name_us, open_path(line), waves)


def _with_added(shape: OverviewPanel, panel: Panel, added: tuple[AddedPlace, ...]) -> OverviewPanel:
    own = [place for place in added if place.panel_key == panel.key]
    if not own:
        return shape
    marks = tuple(_added_mark(panel, place) for place in own)
    return replace(shape, recesses=shape.recesses + marks)


def _added_mark(panel: Panel, place: AddedPlace) -> RecessShape:
    at = _from_above((spot_on(panel, place.spot),))[0]
    area = capsule_at(at, ADDED_HALF if panel.side is Side.MIDDLE else ADDED_HALF[::-1])
    return RecessShape(place.key, place.name, place.name, closed_path(area), place.kind, added=True)


def _piece(piece: ShelfPiece) -> OverviewPanel:
    panel = piece.panel
    return OverviewPanel(
        panel.key,
        panel.key,
        panel.name,
        panel.name,
        None,
        closed_path(piece.outline),
        "",
        piece.label,
        tuple(make_stroke(place.key, place.name, place.name, line, WEIGHT, 1) for place, line in piece.edges),
        tuple(
            RecessShape(p.key, p.name, p.name, closed_path(area), added=True) for p, area in piece.recesses
        ),
        added=True,
    )
