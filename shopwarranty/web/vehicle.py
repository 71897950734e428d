"""What a page says about the vehicle it draws: how each piece looks, where it leads, what is read out.

Pages fill a `VehicleDrawing` or a `PanelDrawing`; `vehicle_svg` and `panel_svg` turn it into markup.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from shopwarranty.trade.drawing import Look
from shopwarranty.trade.shelf import AddedPanel, AddedPlace


class Purpose(StrEnum):
    """What the drawing is for; the style sheet has a section for each."""

    RECORD = "record"
    CHECK = "check"
    COVER = "cover"
    RATES = "rates"


FILMS = ("film-a", "film-b", "film-c", "film-d", "film-other")
RATES = ("rate-1", "rate-2", "rate-3", "rate-4", "rate-5", "few")
STATES = frozenset({"usual", "differs", "off", "clean", "lift", "unseen", *FILMS, *RATES})


class UnknownState(ValueError):
    """A piece was given a state the drawing has no stroke for."""


@dataclass(frozen=True, slots=True)
class Piece:
    """One panel in the overview.

    `state`: usual, differs, off (no film), clean, lift, unseen, film-a to film-d, rate-1 to rate-5, few.
    `said` is read out after the panel's name ("2 differ"); `tag` is short text on the piece (a rate, a
    letter); `count` stands in a disc. `places` gives places a look, `others` all the rest (None: not drawn).
    """

    state: str = "usual"
    url: str = ""
    said: str = ""
    tag: str = ""
    count: int | None = None
    places: Mapping[str, Look | str] = field(default_factory=dict)
    others: Look | str | None = None
    here: bool = False

    def __post_init__(self) -> None:
        if self.state not in STATES:
            raise UnknownState(f"{self.state!r} is not one of {', '.join(sorted(STATES))}")

    def look_of(self, place_key: str) -> Look | None:
        look = self.places.get(place_key, self.others)
        return None if look is None or self.state == "off" else Look(look)


NO_FILM = Piece("off")


@dataclass(frozen=True, slots=True)
class VehicleDrawing:
    """The whole vehicle from above. `summary` is one sentence for those who cannot see it.

    Panels without an entry in `pieces` look like `rest`. `legend` pairs a state with its words, for the key.
    `on_paper` makes the drawing bring its own strokes, for the PDF. `ident` keeps two drawings apart.
    """

    body_key: str
    purpose: Purpose
    summary: str
    pieces: Mapping[str, Piece] = field(default_factory=dict)
    rest: Piece = NO_FILM
    added_panels: tuple[AddedPanel, ...] = ()
    added_places: tuple[AddedPlace, ...] = ()
    legend: tuple[tuple[str, str], ...] = ()
    on_paper: bool = False
    ident: str = "vehicle"

    def piece(self, panel_key: str) -> Piece:
        return self.pieces.get(panel_key, self.rest)


@dataclass(frozen=True, slots=True)
class PlaceMark:
    """One edge or recess of the zoomed panel: its look, where it leads, what is read out after its name."""

    look: Look | str = Look.USUAL
    url: str = ""
    said: str = ""
    picked: bool = False


@dataclass(frozen=True, slots=True)
class PanelDrawing:
    """One panel as the installer stands before it. Places without an entry in `marks` look like `rest`."""

    body_key: str
    panel_key: str
    summary: str
    marks: Mapping[str, PlaceMark] = field(default_factory=dict)
    rest: PlaceMark = PlaceMark()
    added_panels: tuple[AddedPanel, ...] = ()
    added_places: tuple[AddedPlace, ...] = ()
    ident: str = "panel"

    def mark(self, place_key: str) -> PlaceMark:
        return self.marks.get(place_key, self.rest)


def film_state(nth: int) -> str:
    """The hatch of the nth film of a vehicle, counted from 0."""
    return FILMS[min(nth, len(FILMS) - 1)]


def film_letter(nth: int) -> str:
    """A, B, C ... as written on the pieces."""
    return chr(ord("A") + nth) if nth < 26 else str(nth + 1)
