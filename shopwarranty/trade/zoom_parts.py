"""What a zoomed panel is made of: strokes with their areas to tap, recesses, names."""

from __future__ import annotations

from dataclasses import dataclass

from shopwarranty.trade.drawing import Stroke
from shopwarranty.trade.labels import Label
from shopwarranty.trade.shapes import Line
from shopwarranty.trade.strokes import number

HIT_WIDTH = 56.0


@dataclass(frozen=True, slots=True)
class Disc:
    x: float
    y: float
    radius: float


@dataclass(frozen=True, slots=True)
class Box:
    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class ZoomEdge:
    """`hit_path` is stroked HIT_WIDTH wide with butt ends; a short edge is tapped on its disc as well.

    `hit_line` are the points of `hit_path`. `added`: a line of the shop's own, inside the panel.
    """

    stroke: Stroke
    hit_path: str
    hit_line: Line
    disc: Disc | None = None
    added: bool = False

    @property
    def place_key(self) -> str:
        return self.stroke.place_key

    @property
    def name(self) -> str:
        return self.stroke.name

    @property
    def name_us(self) -> str:
        return self.stroke.name_us


@dataclass(frozen=True, slots=True)
class ZoomRecess:
    place_key: str
    name: str
    name_us: str
    path: str
    hit: Box
    added: bool = False


@dataclass(frozen=True, slots=True)
class ZoomPanel:
    """Edges in drawing order (long ones first, so that short ones lie on top), recesses on top of them.

    `standing` says in words how the panel is turned. A name that found no room is not among `labels`.
    """

    panel_key: str
    name: str
    name_us: str
    standing: str
    width: float
    height: float
    outline: str
    edges: tuple[ZoomEdge, ...]
    recesses: tuple[ZoomRecess, ...]
    labels: tuple[Label, ...]

    @property
    def view_box(self) -> str:
        return f"0 0 {number(self.width)} {number(self.height)}"
