"""How one panel was done: what its method says, and what differed there."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from random import Random

from shopwarranty.trade import catalogue
from shopwarranty.trade.method import job_values, panel_values, place_values
from shopwarranty.trade.panels import FIELD_KEY, PlaceKind, PlaceType
from shopwarranty.trade.technique import Value as Said

from .chance import between, stream
from .plans import Plan
from .sources import Version, methods
from .told import Differed, Value, Values

STATED, MEASURED, BY_METHOD = "stated", "measured", "by_method"
NOT_HEATED = {
    "colour-change": (0.24, 0.14),
    "clear-protective": (0.07, 0.04),
    "coloured-protective": (0.07, 0.04),
}
"""Share of panels whose recesses, and share of edges that, were left without post-heat, by film family."""

OLD_BLADE = 0.14
UNCONFIRMED = 0.04
WINDOW_EDGES = frozenset({"window", "glass"})
REASONS = {
    "post_heated": ("no_time", "no_time", "shape", "trim_in_way"),
    "blade_fresh": ("other",),
    "hardware": ("trim_in_way", "no_time"),
    "wrap_in_reached_mm": ("film_short", "film_pulled_back", "shape"),
    "left_short": ("shape", "holder_wish"),
    "static_step": ("other",),
    "primer": ("shape",),
    "cut_on_panel": ("shape",),
}


@dataclass(slots=True)
class Worked:
    """One panel's values while they are put together."""

    confirmed: bool
    panel: dict[str, tuple[Value, str]] = field(default_factory=dict)
    places: dict[str, dict[str, tuple[Value, str]]] = field(default_factory=dict)
    differed: list[Differed] = field(default_factory=list)


def version_of(plan: Plan) -> Version:
    method = next(one for one in methods() if one.name == plan.method)
    return method.versions[plan.version - 1]


def values_of_job(plan: Plan) -> Values:
    return _by_method(job_values(version_of(plan).values))


def worked(plan: Plan, body: str, panel: str) -> Worked:
    """Drawn for this panel alone, whatever else the job holds."""
    rng, said = stream("technique", plan.number, panel), version_of(plan).values
    done = Worked(confirmed=not (plan.imported and rng.random() < UNCONFIRMED))
    usual = panel_values(said, panel)
    _panel(done, usual, rng)
    heated = _recesses_heated(plan, rng)
    measured = rng.random() < 0.15
    for place in catalogue.default_places(catalogue.panel(body, panel)):
        of_place = place_values(said, panel, place.key, place.kind)
        rng = stream("place", plan.number, panel, place.key)
        edge_heated = rng.random() >= NOT_HEATED[plan.family][1]
        by_kind = heated if place.kind is PlaceKind.RECESS else edge_heated
        _place(done, place, of_place, by_kind, measured, rng)
    return done


def _by_method(usual: Mapping[str, Said]) -> dict[str, tuple[Value, str]]:
    return {key: (value, BY_METHOD) for key, value in usual.items() if value is not None}


def _panel(done: Worked, usual: Mapping[str, Said], rng: Random) -> None:
    if done.confirmed:
        done.panel |= _by_method(usual)
    for key, value in _panel_differences(usual, rng):
        done.panel[key] = (value, STATED)
        done.differed.append(_differed("", key, usual.get(key), value, rng))


def _panel_differences(usual: Mapping[str, Said], rng: Random) -> Iterator[tuple[str, Value]]:
    blade, static, hardware = rng.random(), rng.random(), rng.random()
    if blade < OLD_BLADE:
        yield "blade_fresh", False
    if static < 0.16:
        yield "static_step", True
    if usual.get("hardware") == "removed" and hardware < 0.1:
        yield "hardware", "trimmed_in_place"


def _recesses_heated(plan: Plan, rng: Random) -> bool | None:
    """Recesses of a panel are done in one go. The first version of the method said nothing about them."""
    drawn = rng.random()
    if "recess" in version_of(plan).values:
        return drawn >= NOT_HEATED[plan.family][0]
    if drawn < 0.22:
        return False
    return True if drawn < 0.6 else None


def _place(
    done: Worked,
    place: PlaceType,
    usual: Mapping[str, Said],
    heated: bool | None,
    measured: bool,
    rng: Random,
) -> None:
    values = _by_method(usual) if done.confirmed else {}
    for key, value, basis in _place_values(place, usual, heated, measured, rng):
        values[key] = (value, basis)
        if differs(usual, key, value):
            done.differed.append(_differed(place.key, key, _compared(usual, key), value, rng))
    done.places[place.key] = values


def _place_values(
    place: PlaceType, usual: Mapping[str, Said], heated: bool | None, measured: bool, rng: Random
) -> Iterator[tuple[str, Value, str]]:
    drawn = [rng.random() for _ in range(5)]
    if place.key == FIELD_KEY:
        return
    if place.kind is PlaceKind.RECESS:
        if heated is not None and heated != usual.get("post_heated"):
            yield "post_heated", heated, STATED
        if drawn[0] < 0.03:
            yield "primer", True, STATED
    else:
        if heated is False:
            yield "post_heated", False, STATED
        yield from _edge_values(place, drawn, rng)
    if heated and measured:
        yield "post_heat_c", between(rng, 88, 102), MEASURED


def _edge_values(place: PlaceType, drawn: list[float], rng: Random) -> Iterator[tuple[str, Value, str]]:
    if drawn[0] < 0.12:
        yield "wrap_in_reached_mm", float(rng.choice((3, 4, 5, 5, 6, 6, 7, 8))), MEASURED
    if place.key in WINDOW_EDGES and drawn[1] < 0.35:
        yield "covered_by", "rubber", STATED
    if drawn[2] < 0.012:
        yield "left_short", True, STATED
    if drawn[3] < 0.04:
        yield "cut_on_panel", True, STATED


def differs(usual: Mapping[str, Said], key: str, value: Value) -> bool:
    """As the job room counts deviations: where the method is silent only a "yes" is one."""
    expected = _compared(usual, key)
    return value is True if expected is None else value != expected


def _compared(usual: Mapping[str, Said], key: str) -> Said:
    wanted = usual.get("wrap_in_wanted_mm") if key == "wrap_in_reached_mm" else None
    return usual.get(key) if usual.get(key) is not None else wanted


def _differed(place: str, key: str, usual: Said, actual: Value, rng: Random) -> Differed:
    return Differed(place, key, _text(usual), _text(actual), rng.choice(REASONS[key]))


def _text(value: Said) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)
