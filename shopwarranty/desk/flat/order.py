"""In which order panels and places stand: the catalogue's, then what it does not know as it came."""

from functools import cache
from typing import Final

from shopwarranty.trade import catalogue
from shopwarranty.trade.panels import FIELD_KEY, PlaceKind

SEAM: Final = "seam"
AFTER: Final = 1000
Rank = tuple[int, int]


@cache
def panel_place_in_line(body: str, panel: str) -> int:
    """Place in the walking order; `AFTER` for a panel that this body style does not have."""
    keys = catalogue.panel_keys(body)
    return keys.index(panel) if panel in keys else AFTER


@cache
def known_places(body: str, panel: str) -> dict[str, str]:
    """Place key -> kind, in order, from this body style or from any other that has the panel; else empty."""
    for style in (body, *(each.key for each in catalogue.bodies())):
        if catalogue.has_panel(style, panel):
            places = catalogue.default_places(catalogue.panel(style, panel))
            return {place.key: str(place.kind) for place in places}
    return {}


@cache
def place_rank(body: str, panel: str, key: str, kind: str) -> Rank:
    """Known edges and recesses, then added ones, then the surface, then seams; within each as it came."""
    if kind == PlaceKind.SEAM:
        return (3, AFTER)
    if key == FIELD_KEY:
        return (2, 0)
    known = known_places(body, panel)
    return (0, list(known).index(key)) if key in known else (1, AFTER)


def is_seam(key: str) -> bool:
    return key == SEAM or key.startswith(SEAM + "-")
