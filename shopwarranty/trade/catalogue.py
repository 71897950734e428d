"""Look-ups: body styles, their panels in walking order, the places of a panel, and every name that is shown.

Keys are stable and are what is stored. Names are British English with an American variant beside them; both
are plain strings to be translated where they are shown.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from shopwarranty.trade import bodies as measures
from shopwarranty.trade.bodies import Body
from shopwarranty.trade.layout import layout
from shopwarranty.trade.panels import FIELD_KEY, Panel, PlaceKind, PlaceType, Side

FIELD = PlaceType(FIELD_KEY, "surface", "surface", PlaceKind.FIELD)

USUAL_FRONT = (
    "front-bumper",
    "bonnet",
    "left-wing",
    "left-mirror",
    "left-front-door",
    "right-front-door",
    "right-mirror",
    "right-wing",
)

HORIZONTAL = frozenset({"bonnet", "roof", "boot-lid"})

# One key on several body styles may carry another name on one of them; this is what it is called on its own.
NAME_WITHOUT_BODY = {"tailgate": ("tailgate", "tailgate"), "front-door": ("front door", "front door")}


class UnknownBody(LookupError):
    """No body style has this key."""


class UnknownPanel(LookupError):
    """The body style has no panel with this key."""


class UnknownPlace(LookupError):
    """The panel has no place with this key."""


@dataclass(frozen=True, slots=True)
class Size:
    """Of the flat piece as it goes on the panel, without any allowance."""

    along_mm: int
    across_mm: int


# Common practice, no source: the order of size a shop cuts for, before its own allowance.
TYPICAL_SIZES: dict[str, Size] = {
    "front-bumper": Size(1850, 700),
    "bonnet": Size(1250, 1450),
    "wing": Size(1100, 700),
    "mirror": Size(300, 250),
    "front-door": Size(1270, 965),
    "rear-door": Size(1170, 965),
    "sliding-door": Size(1350, 1250),
    "rear-quarter": Size(1350, 900),
    "bed-side": Size(2000, 600),
    "side-panel": Size(2200, 1400),
    "rail": Size(2100, 200),
    "sill": Size(2000, 250),
    "tailgate": Size(900, 1400),
    "boot-lid": Size(700, 1300),
    "rear-doors": Size(1500, 1500),
    "rear-bumper": Size(1850, 650),
    "roof": Size(1700, 1250),
}


def bodies() -> tuple[Body, ...]:
    return measures.BODIES


@cache
def body(key: str) -> Body:
    for candidate in measures.BODIES:
        if candidate.key == key:
            return candidate
    raise UnknownBody(key)


def panels(body_key: str) -> tuple[Panel, ...]:
    """In walking order: front, down the left, rear, up the right, roof."""
    return layout(body(body_key)).panels


@cache
def panel(body_key: str, panel_key: str) -> Panel:
    for candidate in panels(body_key):
        if candidate.key == panel_key:
            return candidate
    raise UnknownPanel(f"{body_key}: {panel_key}")


def has_panel(body_key: str, panel_key: str) -> bool:
    return any(candidate.key == panel_key for candidate in panels(body_key))


def panel_keys(body_key: str) -> tuple[str, ...]:
    return tuple(p.key for p in panels(body_key))


@cache
def default_places(of: Panel) -> tuple[PlaceType, ...]:
    """Edges in outline order, then recesses, then the surface. Seams only exist where film pieces meet."""
    edges = tuple(PlaceType(e.key, e.name, e.name_us, PlaceKind.EDGE) for e in of.edges)
    recesses = tuple(PlaceType(r.key, r.name, r.name_us, PlaceKind.RECESS) for r in of.recesses)
    return (*edges, *recesses, FIELD)


def place(body_key: str, panel_key: str, place_key: str) -> PlaceType:
    for candidate in default_places(panel(body_key, panel_key)):
        if candidate.key == place_key:
            return candidate
    raise UnknownPlace(f"{body_key}: {panel_key}: {place_key}")


def place_name(body_key: str, panel_key: str, place_key: str, *, american: bool = False) -> str:
    found = place(body_key, panel_key, place_key)
    return found.name_us if american else found.name


def panel_name(body_key: str, panel_key: str, *, american: bool = False) -> str:
    found = panel(body_key, panel_key)
    return found.name_us if american else found.name


def pooled_panel_name(panel_key: str, *, american: bool = False) -> str:
    """What a panel is called where several body styles are counted together."""
    return _pooled_names(panel_key)[1 if american else 0]


def pooled_place_name(panel_key: str, place_key: str, *, american: bool = False) -> str:
    for candidate in measures.BODIES:
        if has_panel(candidate.key, panel_key):
            try:
                return place_name(candidate.key, panel_key, place_key, american=american)
            except UnknownPlace:
                continue
    raise UnknownPlace(f"{panel_key}: {place_key}")


def kind_of(panel_key: str) -> str:
    """The panel's key without its side: "left-front-door" and "right-front-door" are both "front-door"."""
    return panel_key.removeprefix("left-").removeprefix("right-")


def side_of(panel_key: str) -> Side:
    for side in (Side.LEFT, Side.RIGHT):
        if panel_key.startswith(f"{side}-"):
            return side
    return Side.MIDDLE


def opposite(panel_key: str) -> str | None:
    """The same panel on the other side of the vehicle; None for panels on the centre line."""
    other = {Side.LEFT: "right-", Side.RIGHT: "left-"}.get(side_of(panel_key))
    return other + kind_of(panel_key) if other else None


def opposite_place(place_key: str) -> str:
    """The place a mirror would show: left and right change over, everything else stays."""
    swaps = {"left": "right", "right": "left"}
    return "-".join(swaps.get(part, part) for part in place_key.split("-"))


def typical_size_mm(panel_key: str) -> Size | None:
    """A starting value for the cut planner; None for a panel only the shop knows."""
    return TYPICAL_SIZES.get(kind_of(panel_key))


def is_horizontal(panel_key: str) -> bool:
    """Whether the panel lies to the sun and rain, where films age sooner."""
    return kind_of(panel_key) in HORIZONTAL


@cache
def all_words() -> tuple[str, ...]:
    """Every name of body styles, panels (also without their side) and places, both variants, once each."""
    words = {FIELD.name, FIELD.name_us}
    for each in measures.BODIES:
        words |= {each.name, each.name_us}
        for p in panels(each.key):
            names = {p.name, p.name_us, *_pooled_names(p.key)}
            words |= names | {name.removeprefix("left ").removeprefix("right ") for name in names}
            words |= {name for q in default_places(p) for name in (q.name, q.name_us)}
            words |= {recess.short for recess in p.recesses}
    return tuple(sorted(words))


@cache
def _pooled_names(panel_key: str) -> tuple[str, str]:
    kind, side = kind_of(panel_key), side_of(panel_key)
    if kind in NAME_WITHOUT_BODY:
        before = "" if side is Side.MIDDLE else f"{side} "
        plain, american = NAME_WITHOUT_BODY[kind]
        return before + plain, before + american
    for candidate in measures.BODIES:
        if has_panel(candidate.key, panel_key):
            found = panel(candidate.key, panel_key)
            return found.name, found.name_us
    raise UnknownPanel(panel_key)
