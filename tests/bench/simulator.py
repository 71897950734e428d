"""A made-up shop, seeded: what is true of every place, and what planned checks would come to know of it.

Written for this project alone and used by no code under test. Places of one vehicle share a log-normal
vehicle frailty, places of one panel on it another; three installers differ in how often they heat and
in how cold they work; lots follow each other in time, so the newest lots are young. Whole vehicles miss
checks, single places are not looked at, some vehicles come under record late, owners damage some.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from shopwarranty.analysis.arrays import BoolArray, FloatArray, IntArray
from shopwarranty.analysis.exposure import NEVER, Lives
from shopwarranty.analysis.patterns import Factor

CHECKS = (14, 90, 365, 730, 1095)
ATTENDED = (0.75, 0.55, 0.50, 0.45, 0.45)
PANELS, PLACES = 10, 3
YES_NO = ("no", "yes")
HEATS = (0.90, 0.75, 0.50)
WORKS_COLD = (0.15, 0.25, 0.40)
SHAPES = {
    "early": ((1.0, 0.6),),
    "rising": ((1.0, 1.7),),
    "bathtub": ((0.7, 0.5), (0.3, 3.0)),
}


@dataclass(frozen=True, slots=True)
class Scenario:
    """What to make up.

    baseline          how the hazard runs with age: early, rising or bathtub
    first_year        share of places failing in the first year at a ratio of 1, unwatched
    vehicle_sd, panel_sd   sd of the log frailties
    heat_ratio, cold_ratio, installer_ratios, newest_lot_ratio   true hazard ratios
    panel_log_sd      sd of log ratios of panels, drawn anew for every shop unless panel_ratios says them
    lot_ratios        of every lot, in place of newest_lot_ratio
    idle              further factors that do nothing, half by place, half by vehicle
    lots, years       lots laid one after the other over so many years until today
    callbacks         share of failures the owner notices and comes back with
    attends_after_callback  attendance after a callback over attendance without
    """

    vehicles: int = 200
    baseline: str = "early"
    first_year: float = 0.025
    vehicle_sd: float = 0.6
    panel_sd: float = 0.5
    heat_ratio: float = 2.0
    cold_ratio: float = 1.5
    installer_ratios: tuple[float, float, float] = (1.0, 1.25, 1.5)
    newest_lot_ratio: float = 2.0
    panel_log_sd: float = 0.3
    panels: int = PANELS
    panel_ratios: tuple[float, ...] = ()
    lot_ratios: tuple[float, ...] = ()
    idle: int = 0
    lots: int = 6
    years: float = 2.0
    callbacks: float = 0.0
    attends_after_callback: float = 1.0
    late: float = 0.10
    overlooked: float = 0.05
    damage_a_year: float = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class Simulated:
    """The record, the factors, and the panel and lot of each place."""

    record: History
    factors: tuple[Factor, ...]
    panel: IntArray
    lot: IntArray

    @property
    def lives(self) -> Lives:
        """As planned checks saw them until today."""
        return self.record.lives()

    def named(self, *names: str) -> tuple[Factor, ...]:
        by_name = {f.name: f for f in self.factors}
        return tuple(by_name[name] for name in names)


def baseline_times(scenario: Scenario, ratio: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Ages at failure when the cumulative hazard is ratio * sum of share * (t/365)^shape * first_year."""
    times = np.full(len(ratio), np.inf)
    for share, shape in SHAPES[scenario.baseline]:
        level = share * scenario.first_year * ratio
        times = np.minimum(times, 365.0 * (rng.exponential(1.0, len(ratio)) / level) ** (1 / shape))
    return times


def simulate(scenario: Scenario, rng: np.random.Generator) -> Simulated:
    """One shop's record. Lives never looked at are kept, as a shop would have them."""
    vehicles, panels = scenario.vehicles, scenario.panels
    size = vehicles * panels * PLACES
    cluster = np.repeat(np.arange(vehicles), panels * PLACES)
    panel = np.tile(np.repeat(np.arange(panels), PLACES), vehicles)
    place = np.tile(np.arange(PLACES), vehicles * panels)
    age_today = np.sort(rng.uniform(0, scenario.years * 365, vehicles))[::-1].astype(np.int64)
    lot_of = np.arange(vehicles) * scenario.lots // vehicles
    installer_of = rng.integers(0, 3, vehicles)
    cold_of = rng.random(vehicles) < np.array(WORKS_COLD)[installer_of]
    installer = installer_of[cluster]
    heated = rng.random(size) < np.array(HEATS)[installer]
    ratio = np.exp(scenario.vehicle_sd * rng.standard_normal(vehicles))[cluster]
    ratio *= np.exp(scenario.panel_sd * rng.standard_normal(vehicles * panels))[cluster * panels + panel]
    ratio *= panel_ratios(scenario, rng)[panel] * np.array((1.0, 1.4, 0.7))[place]
    ratio *= np.where(heated, 1.0, scenario.heat_ratio) * np.where(cold_of[cluster], scenario.cold_ratio, 1.0)
    ratio *= np.array(scenario.installer_ratios)[installer]
    ratio *= lot_ratios(scenario)[lot_of[cluster]]
    record = history(scenario, cluster, age_today, ratio, rng)
    factors = (
        Factor("panel", panel, tuple(f"panel {k}" for k in range(panels))),
        Factor("place", place, ("edge", "recess", "seam")),
        Factor("installer", installer, ("A", "B", "C")),
        Factor("heated", heated.astype(np.int64), YES_NO, 1),
        Factor("cold", cold_of[cluster].astype(np.int64), YES_NO),
        Factor("lot", lot_of[cluster], tuple(f"lot {k}" for k in range(scenario.lots))),
        *idle_factors(scenario, cluster, installer, rng),
    )
    return Simulated(record, factors, panel, lot_of[cluster])


def panel_ratios(scenario: Scenario, rng: np.random.Generator) -> FloatArray:
    if scenario.panel_ratios:
        return np.array(scenario.panel_ratios)
    return np.exp(scenario.panel_log_sd * rng.standard_normal(scenario.panels))


def lot_ratios(scenario: Scenario) -> FloatArray:
    if scenario.lot_ratios:
        return np.array(scenario.lot_ratios)
    return np.where(np.arange(scenario.lots) == scenario.lots - 1, scenario.newest_lot_ratio, 1.0)


def idle_factors(
    scenario: Scenario, cluster: IntArray, installer: IntArray, rng: np.random.Generator
) -> tuple[Factor, ...]:
    """Factors without effect: by place or by vehicle, every third tied to the installer."""
    factors = []
    vehicles, size = scenario.vehicles, len(cluster)
    first_of = installer[np.searchsorted(cluster, np.arange(vehicles))]
    for k in range(scenario.idle):
        share = np.array((0.3, 0.5, 0.7)) if k % 3 == 0 else np.full(3, (0.2, 0.35, 0.5)[k % 3])
        if k % 2:
            codes = (rng.random(vehicles) < share[first_of])[cluster]
        else:
            codes = rng.random(size) < share[installer]
        factors.append(Factor(f"idle {k}", codes.astype(np.int64), YES_NO))
    return tuple(factors)


@dataclass(frozen=True, slots=True, eq=False)
class History:
    """All looks in order of age, so that the record can be read as of any earlier day."""

    cluster: IntArray
    entry: IntArray
    age_today: IntArray
    failed_at: FloatArray
    damaged_at: FloatArray
    looks: tuple[tuple[BoolArray, IntArray, bool], ...]

    def lives(self, *, callbacks: bool = False, days_ago: int = 0) -> Lives:
        """Planned checks only, or with callbacks when they happened, as known so many days ago."""
        seen = _Seen(len(self.cluster))
        age = (self.age_today - days_ago)[self.cluster]
        for here, day, planned in self.looks:
            if planned or callbacks:
                seen.look(here & (day <= age), day, self.failed_at, self.damaged_at)
        return seen.lives(self.entry, self.cluster)


def history(
    scenario: Scenario, cluster: IntArray, age_today: IntArray, ratio: FloatArray, rng: np.random.Generator
) -> History:
    """Who came when, and what was looked at then."""
    vehicles, size = scenario.vehicles, len(cluster)
    failed_at = baseline_times(scenario, ratio, rng)
    damaged_at = rng.exponential(365 / max(scenario.damage_a_year, 1e-9), size)
    late_of = np.where(rng.random(vehicles) < scenario.late, rng.integers(20, 200, vehicles), 0)
    entry = np.minimum(late_of, np.maximum(age_today - 1, 0))[cluster]
    gone = (failed_at <= entry) & (entry > 0)  # found failing on entry: never came under watch
    back_at, back_of = _callbacks(scenario, cluster, failed_at, entry, rng)
    complained = (back_at == back_of[cluster]) & np.isfinite(back_at) & ~gone
    willing = rng.standard_normal(vehicles)
    looks: list[tuple[BoolArray, IntArray, bool]] = []
    last = np.zeros(vehicles)
    for day, share in zip((*CHECKS, 10**6), (*ATTENDED, 0.0), strict=True):
        when = np.maximum(day + rng.integers(-min(3, day // 5), 1 + day // 10, vehicles), 1)
        between = complained & ((back_of > last) & (back_of <= when))[cluster]
        looks.append((between, np.where(between, back_at, 0).astype(np.int64), False))
        pull = share * np.where(back_of <= when, scenario.attends_after_callback, 1.0)
        comes = 0.6 * willing + 0.8 * rng.standard_normal(vehicles) < ndtri(pull)
        here = comes[cluster] & (rng.random(size) >= scenario.overlooked) & ~gone & (when[cluster] > entry)
        looks.append((here, when[cluster], True))
        last = when
    return History(cluster, entry, age_today, failed_at, damaged_at, tuple(looks))


def _callbacks(
    scenario: Scenario, cluster: IntArray, failed_at: FloatArray, entry: IntArray, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """When the owner would come back for each place (inf: never), and the vehicle's first such day."""
    notices = (rng.random(len(cluster)) < scenario.callbacks) & (failed_at > entry)
    back_at = np.where(notices, np.ceil(failed_at + rng.exponential(20, len(cluster)) + 1), np.inf)
    first = np.full(scenario.vehicles, np.inf)
    np.minimum.at(first, cluster, back_at)
    return back_at, first


class _Seen:
    """What looks in order of age have come to know."""

    __slots__ = ("clean", "failed")

    def __init__(self, size: int) -> None:
        self.clean = np.full(size, NEVER, dtype=np.int64)
        self.failed = np.full(size, NEVER, dtype=np.int64)

    def look(self, here: BoolArray, day: IntArray, failed_at: FloatArray, damaged_at: FloatArray) -> None:
        open_still = here & (self.failed == NEVER) & (day > self.clean)
        whole = open_still & (damaged_at > np.minimum(day, failed_at))
        fails = whole & (failed_at <= day)
        clean = whole & ~fails & (damaged_at > day)
        self.failed[fails] = day[fails]
        self.clean[clean] = day[clean]

    def lives(self, entry: IntArray, cluster: IntArray) -> Lives:
        clean = np.where((self.clean >= entry) & (self.clean != NEVER), self.clean, NEVER)
        return Lives(entry.astype(np.int64), clean, self.failed, cluster)
