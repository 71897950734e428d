"""When places let go, and with what: where the stories that the review should find are planted.

* clear: recesses that were not heated after cutting let go several times as often (color change);
* unclear: a blade that was not fresh does some harm, on too few panels to be sure of it;
* bad lot: one lot of one film fails three to four times as often as its neighbours;
* really worse than the rest: front bumpers and mirrors;
* luck: two early lifts on a panel that was hardly ever done;
* nothing at all: everything else, so that whatever is claimed of it would be claimed by chance.
"""

import math
from dataclasses import dataclass
from random import Random

from shopwarranty.trade.catalogue import kind_of

from .chance import choose, exponential, stream
from .told import Job, Panel, Piece, Place

YEAR, SHAPE, LATEST = 365.0, 0.75, 20_000.0
"""Early failures are the usual ones: the hazard falls with age."""

FAILED_IN_A_YEAR = {"edge": 0.0135, "recess": 0.02, "seam": 0.03, "field": 0.014}
PANELS = {"front-bumper": 4.0, "mirror": 1.7, "roof": 0.5, "bonnet": 0.8, "rear-bumper": 1.2}
FAMILIES = {"colour-change": 1.0, "clear-protective": 0.75, "coloured-protective": 0.8}
RECESS_NOT_HEATED, EDGE_NOT_HEATED = 7.0, 3.0
OLD_BLADE = 2.2
BAD_LOT_FILM, BAD_LOT, BAD_LOT_TIMES = "chroma-gloss", 2, 3.6
LUCKY = {(72, "left-rail", "end"): 9, (104, "left-rail", "upper"): 8}
"""(job, panel, place): the day it let go."""

KINDS = {
    "edge": {"edge-lift": 60, "corner-lift": 20, "finger": 8, "shrink-back": 7, "contamination": 5},
    "recess": {"tenting": 66, "edge-lift": 22, "finger": 12},
    "seam": {"seam-gap": 60, "edge-lift": 40},
    "field": {"air-bubble": 40, "contamination": 25, "crease": 15, "stretch-mark": 20},
}
PROTECTIVE_FIELD = {"moisture-pocket": 45, "contamination": 25, "adhesive-line": 20, "crease": 10}


@dataclass(frozen=True, slots=True)
class Spot:
    """One place of a job where something may happen. `hazard`: cumulative, over its first year."""

    index: int
    panel: int
    piece: int
    key: str
    kind: str
    family: str
    hazard: float
    about: tuple[object, ...]
    set_day: int | None = None
    not_heated: bool = False


@dataclass(frozen=True, slots=True)
class Fate:
    """What awaits a life: the day of age it lets go, a trace before it, how bad it is when it starts."""

    fails_at: int
    trace_from: int
    severity: int
    kind: str
    extent_mm: float


def spots_of(job: Job, families: dict[str, str], bad_rolls: frozenset[int]) -> tuple[Spot, ...]:
    """In the order in which the places of the job are stored. `families`: of each film."""
    frailty = math.exp(stream("frailty", job.number).gauss(0, 0.4))
    found: list[Spot] = []
    for p, panel in enumerate(job.panels):
        for q, piece in enumerate(panel.pieces):
            family = families[piece.film]
            for place in piece.places:
                times = frailty * _lot(piece, bad_rolls) * _blade(panel, family) * _technique(place, family)
                found.append(_spot(len(found), job, (p, panel), q, place, family, times))
    return tuple(found)


def _spot(
    index: int, job: Job, at: tuple[int, Panel], piece: int, place: Place, family: str, times: float
) -> Spot:
    panel = at[1]
    hazard = -math.log(1 - FAILED_IN_A_YEAR[place.kind]) * times
    hazard *= PANELS.get(kind_of(panel.key), 1.0) * FAMILIES[family]
    return Spot(
        index,
        at[0],
        piece,
        place.key,
        place.kind,
        family,
        hazard,
        (job.number, panel.key, piece, place.key),
        LUCKY.get((job.number, panel.key, place.key)),
        _heated(place) is False,
    )


def _lot(piece: Piece, bad_rolls: frozenset[int]) -> float:
    return BAD_LOT_TIMES if piece.roll in bad_rolls else 1.0


def _blade(panel: Panel, family: str) -> float:
    old = panel.values.get("blade_fresh", (None, ""))[0] is False
    return OLD_BLADE if old and family == "colour-change" else 1.0


def _technique(place: Place, family: str) -> float:
    if _heated(place) is not False or family != "colour-change":
        return 1.0
    return RECESS_NOT_HEATED if place.kind == "recess" else EDGE_NOT_HEATED


def _heated(place: Place) -> object:
    return place.values.get("post_heated", (None, ""))[0]


def fate_of(spot: Spot, life: int) -> Fate:
    """`life` counts the lives of the place from 1; what was put right lets go again a little sooner."""
    rng = stream("fate", *spot.about, life)
    hazard = spot.hazard * (1.0 if life == 1 else 1.8)
    day = math.ceil(min(YEAR * (exponential(rng) / hazard) ** (1 / SHAPE), LATEST))
    if spot.set_day is not None and life == 1:
        day = spot.set_day
    lead = rng.randint(10, 80) if rng.random() < 0.35 else 0
    severity = rng.choices((2, 3, 4), (66, 31, 3))[0]
    kind = choose(rng, _kinds(spot))
    return Fate(day, max(day - lead, 1), severity, kind, _extent(rng, severity))


def harmless_trace(spot: Spot) -> int | None:
    """The day of age from which a trace is seen that never grows; None for nearly every place."""
    rng = stream("trace", *spot.about)
    return rng.randint(5, 200) if rng.random() < 0.007 else None


def _kinds(spot: Spot) -> dict[str, int]:
    if spot.kind == "field" and spot.family != "colour-change":
        return PROTECTIVE_FIELD
    return KINDS[spot.kind]


def _extent(rng: Random, severity: int) -> float:
    return float(round(rng.uniform(3, 9) * severity))
