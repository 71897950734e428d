"""What a panel is: its edges in order, its recesses, and the places on it that are looked at and can fail."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from shopwarranty.trade.shapes import Line, Point


class PlaceKind(StrEnum):
    EDGE = "edge"
    RECESS = "recess"
    SEAM = "seam"
    FIELD = "field"


class Side(StrEnum):
    """As seen from the driver's seat facing forward."""

    LEFT = "left"
    MIDDLE = "middle"
    RIGHT = "right"


FIELD_KEY = "field"


@dataclass(frozen=True, slots=True)
class Edge:
    """A line where film ends or turns. `points` are (v, u): across and along the vehicle."""

    key: str
    name: str
    points: Line
    name_us: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "name_us", self.name_us or self.name)


@dataclass(frozen=True, slots=True)
class Recess:
    """A concave area film is pressed into. `outline` is closed.

    `short` is the name beside the recess itself, where left and right are plain to see.
    """

    key: str
    name: str
    outline: Line
    name_us: str = ""
    short: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "name_us", self.name_us or self.name)
        object.__setattr__(self, "short", self.short or self.name)


@dataclass(frozen=True, slots=True)
class Panel:
    """One body part. Its outline is its edges joined: there is no outline without a name for all of it.

    `kind` is the key without its side ("front-door"), the same left and right. `hit` is the area that can be
    tapped where the piece itself is slim; empty when the outline is enough.
    """

    key: str
    kind: str
    name: str
    name_us: str
    side: Side
    edges: tuple[Edge, ...]
    recesses: tuple[Recess, ...] = ()
    corner: float = 6.0
    label: Point = (0.0, 0.0)
    hit: Line = ()

    @property
    def outline(self) -> Line:
        return tuple(point for edge in self.edges for point in edge.points[:-1])


@dataclass(frozen=True, slots=True)
class PlaceType:
    """A place a panel has when nothing else is said."""

    key: str
    name: str
    name_us: str
    kind: PlaceKind
