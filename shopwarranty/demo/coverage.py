"""Which panels a job covers."""

from random import Random

from shopwarranty.trade import catalogue
from shopwarranty.trade.catalogue import kind_of

from .chance import choose

SELDOM = frozenset({"rail", "sill"})
OFTEN = {
    "colour-change": {"full": 0.3, "full-and-sills": 0.05, "sides": 0.3, "tops": 0.15, "front": 0.2},
    "clear-protective": {"usual-front": 0.66, "front": 0.24, "full": 0.1},
    "coloured-protective": {"usual-front": 0.4, "front": 0.4, "full": 0.2},
}
TOPS = frozenset({"roof", "bonnet", "mirror"})
SIDES = frozenset(
    {"front-door", "rear-door", "sliding-door", "rear-quarter", "bed-side", "side-panel", "wing"}
)
FRONT = frozenset({"front-bumper", "bonnet", "wing", "mirror", "front-door"})


def panels_of(body: str, family: str, rng: Random) -> tuple[str, ...]:
    """Keys in walking order."""
    return covered(body, choose(rng, OFTEN[family]))


def covered(body: str, what: str) -> tuple[str, ...]:
    keys = catalogue.panel_keys(body)
    if what == "usual-front":
        return tuple(key for key in keys if key in catalogue.USUAL_FRONT)
    kinds = {"tops": TOPS, "sides": SIDES, "front": FRONT}.get(what)
    if kinds:
        return tuple(key for key in keys if kind_of(key) in kinds)
    more = {"full-and-sills": {"sill"}, "full-and-rails": {"rail"}}.get(what, set())
    return tuple(key for key in keys if kind_of(key) not in SELDOM - more)
