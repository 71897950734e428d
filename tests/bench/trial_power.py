"""Vehicles until a doubling is found in 80 %: by a trial, looked at as often as one likes, and by the review.

Both see the same made-up shop: its mix of panels and places, its frailties, its visits missed and places
overlooked. The review also has its confounding (who heats less also works colder, three installers differ)
and its family of claims (thirty factors that do nothing); a trial draws who gets what. Both tell of alike
arms in at most 5 %.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import count
from math import inf

import numpy as np
from scipy.special import ndtri

from shopwarranty.analysis.arrays import BoolArray, FloatArray, IntArray
from shopwarranty.analysis.proportions import clopper_pearson
from shopwarranty.analysis.trial_blocks import Unit, jobs_answer
from shopwarranty.analysis.trial_draw import job_gets_other, other_comes_first
from shopwarranty.analysis.trial_pairs import Look, PairResult, judge_pair, last_day, signs_in_order
from shopwarranty.analysis.trial_sequence import Plan, Said, discordant_needed, first_said
from tests.bench import calibration
from tests.bench.rounds import Figures, Round
from tests.bench.simulator import (
    ATTENDED,
    CHECKS,
    PLACES,
    Scenario,
    baseline_times,
    lot_ratios,
    panel_ratios,
)

SHOPS = 500
NULLS = 1000
IDLE = 30
BY_DAY = 365
PLAN = Plan(discordant_needed(2.0))
EARLY = Scenario(idle=IDLE, heat_ratio=2.0)
RISING = replace(EARLY, baseline="rising")
RARE = replace(EARLY, first_year=0.01)
NAMED = {"early, 2.5 % a year": EARLY, "rising, 2.5 % a year": RISING, "early, 1 % a year": RARE}


@dataclass(frozen=True, slots=True)
class Checks:
    """Days after laying and the share of vehicles that come."""

    days: tuple[int, ...]
    attended: tuple[float, ...]


USUAL_CHECKS = Checks(CHECKS, ATTENDED)
OWN_CHECKS = Checks((14, 42, 90, 180, 365), (0.75, 0.65, 0.55, 0.52, 0.50))
"""Those a trial plans by itself, attended as much as a check of that age is otherwise."""

Seen = tuple[IntArray, BoolArray, BoolArray]


@dataclass(frozen=True, slots=True, eq=False)
class Laid:
    """One shop's trial: by vehicle its age today and its day of laying (day 0: the first), and its looks."""

    age_today: IntArray
    laid_on: IntArray
    seen: list[Seen]


def lay(
    scenario: Scenario, other: BoolArray, pairs_of_panels: int, checks: Checks, rng: np.random.Generator
) -> Laid:
    """Left and right of a panel fail alike but for chance; `other` places as the draw says, in any shape."""
    vehicles, panels = scenario.vehicles, 2 * pairs_of_panels
    cluster = np.repeat(np.arange(vehicles), panels * PLACES)
    panel = np.tile(np.repeat(np.arange(panels), PLACES), vehicles)
    place = np.tile(np.arange(PLACES), vehicles * panels)
    age_today = np.sort(rng.uniform(0, scenario.years * 365, vehicles))[::-1].astype(np.int64)
    installer = rng.integers(0, 3, vehicles)[cluster]
    lot = (np.arange(vehicles) * scenario.lots // vehicles)[cluster]
    ratio = np.exp(scenario.vehicle_sd * rng.standard_normal(vehicles))[cluster]
    ratio *= np.exp(scenario.panel_sd * rng.standard_normal(vehicles * panels))[cluster * panels + panel]
    ratio *= panel_ratios(scenario, rng)[panel // 2] * np.array((1.0, 1.4, 0.7))[place]
    ratio *= np.array(scenario.installer_ratios)[installer] * lot_ratios(scenario)[lot]
    ratio *= np.where(other.ravel(), scenario.heat_ratio, 1.0)
    failed_at = baseline_times(scenario, ratio, rng)
    seen = _looks(scenario, checks, cluster, age_today, failed_at, rng)
    return Laid(age_today, age_today.max() - age_today, list(seen))


def _looks(
    scenario: Scenario,
    checks: Checks,
    cluster: IntArray,
    age_today: IntArray,
    failed_at: FloatArray,
    rng: np.random.Generator,
) -> Iterator[Seen]:
    """Looks up to today in order of age: day, whether looked at, whether failed; each (places,)."""
    damaged_at = rng.exponential(365 / scenario.damage_a_year, len(cluster))
    willing = rng.standard_normal(scenario.vehicles)
    for check, share in zip(checks.days, checks.attended, strict=True):
        spread = rng.integers(-min(3, check // 5), 1 + check // 10, scenario.vehicles)
        comes = 0.6 * willing + 0.8 * rng.standard_normal(scenario.vehicles) < ndtri(share)
        day = (check + spread)[cluster]
        here = (comes & (check + spread <= age_today))[cluster]
        here &= rng.random(len(cluster)) >= scenario.overlooked
        here &= damaged_at > np.minimum(day, failed_at)
        yield day, here, here & (failed_at <= day)


def by_pairs(scenario: Scenario, pairs_of_panels: int, checks: Checks, seed: int, run: int) -> Said:
    """Every place of the panels against its twin on the other side of the vehicle."""
    rng = np.random.default_rng([seed, run])
    shape = (scenario.vehicles, pairs_of_panels, PLACES)
    first = np.array([other_comes_first(seed + run, n) for n in range(int(np.prod(shape)))]).reshape(shape)
    laid = lay(scenario, np.stack([first, ~first], axis=2), pairs_of_panels, checks, rng)
    looks = [[_halves(column, first) for column in look] for look in laid.seen]
    told = np.logical_or.reduce([o | u for _, _, (o, u) in looks]).ravel()
    results = [
        _pair(int(n), looks, int(laid.laid_on[n // (pairs_of_panels * PLACES)])) for n in np.flatnonzero(told)
    ]
    return first_said(signs_in_order(results)[: PLAN.most], PLAN)[0]


Halves = tuple[IntArray | BoolArray, IntArray | BoolArray]


def _halves(column: IntArray | BoolArray, first: BoolArray) -> Halves:
    """Values of the other and the usual half; each of the shape of `first`."""
    sides = column.reshape(first.shape[0], first.shape[1], 2, first.shape[2])
    left, right = sides[:, :, 0], sides[:, :, 1]
    return np.where(first, left, right), np.where(first, right, left)


def _pair(number: int, looks: list[list[Halves]], laid_on: int) -> PairResult:
    seen = [
        Look(
            int(day[0].flat[number]),
            *(
                bool(fails.flat[number]) if here.flat[number] else None
                for here, fails in zip(now, failed, strict=True)
            ),
        )
        for day, now, failed in looks
    ]
    outcome, day = judge_pair(seen, BY_DAY)
    return PairResult(number, outcome, None if day is None else laid_on + day)


def by_jobs(scenario: Scenario, seed: int, run: int) -> Said:
    """One pair of panels of every vehicle, both done the way that its job drew."""
    rng = np.random.default_rng([seed, run])
    drawn = np.array([job_gets_other(seed + run, n + 1) for n in range(scenario.vehicles)])
    shape = (scenario.vehicles, 2 * PLACES)
    laid = lay(scenario, np.broadcast_to(drawn[:, None], shape), 1, OWN_CHECKS, rng)
    last, found, at = np.zeros(len(drawn)), np.full(len(drawn), inf), np.full(len(drawn), -1.0)
    for day, here, fails in laid.seen:
        on, all_here = day.reshape(shape)[:, 0], here.reshape(shape).all(axis=1)
        counts = (found == inf) & (at < 0) & (on <= last_day(BY_DAY))
        failed = counts & fails.reshape(shape).any(axis=1)
        clean = counts & all_here & ~failed
        found[failed], last[clean] = on[failed], on[clean]
        at[failed | (clean & (on >= BY_DAY))] = on[failed | (clean & (on >= BY_DAY))]
    over = (at < 0) & (laid.age_today > last_day(BY_DAY))
    at[over] = last_day(BY_DAY)
    return jobs_answer(_units(drawn, last, found, at, laid.laid_on), PLAN).standing.said


def _units(
    drawn: BoolArray, last: FloatArray, found: FloatArray, at: FloatArray, laid_on: IntArray
) -> list[Unit]:
    return [
        Unit(n, bool(other), float(clean), float(failed), int(on + day) if day >= 0 else None)
        for n, other, clean, failed, day, on in zip(count(1), drawn, last, found, at, laid_on, strict=False)
    ]


Trial = Callable[[int, int], Said]


def found_by(trial: Trial, runs: int, seed: int) -> dict[Said, int]:
    said = [trial(seed, run) for run in range(runs)]
    return {each: said.count(each) for each in Said}


def _power(trial: Trial) -> Callable[[int], Figures]:
    def run(seed: int) -> Figures:
        said = found_by(trial, SHOPS, seed)
        values = {"found": said[Said.MORE], "of": SHOPS, "wrong way": said[Said.FEWER]}
        return Figures(True, {**values, "called alike": said[Said.NO_DIFFERENCE]})

    return run


def _null(trial: Trial) -> Callable[[int], Figures]:
    def run(seed: int) -> Figures:
        said = found_by(trial, NULLS, seed)
        wrong = said[Said.MORE] + said[Said.FEWER]
        low, high = (lambda i: (i.low, i.high))(clopper_pearson(wrong, NULLS, 0.99))
        return Figures(low <= 0.05, {"wrong": wrong, "of": NULLS, "low99": low, "high99": high})

    return run


def _reviewed(scenario: Scenario) -> Callable[[int], Figures]:
    def run(seed: int) -> Figures:
        found = calibration.doubling(scenario, "heated", SHOPS, seed)
        values = {"found": round(found.called.mean * SHOPS), "of": SHOPS}
        return Figures(True, {**values, "false claims": found.false_claims.written})

    return run


SIZES = {
    "early, 2.5 % a year": ((60, 80, 100, 130, 160, 200), (300, 400, 500, 600, 800), (600, 900, 1200)),
    "rising, 2.5 % a year": ((80, 110, 140, 180, 240), (500, 700, 900, 1200), (900, 1200, 1600)),
    "early, 1 % a year": ((120, 160, 200, 250, 320), (700, 900, 1200, 1500), (1800, 2400)),
}
REVIEWED = {
    "early, 2.5 % a year": (150, 200, 250, 300),
    "rising, 2.5 % a year": (200, 300),
    "early, 1 % a year": (350, 500),
}


def rounds() -> tuple[Round, ...]:
    """The review's rounds come between, since they take the longest."""
    made = list(_nulls())
    for name, scenario in NAMED.items():
        whole, one, jobs = SIZES[name]
        made += [_paired(name, scenario, 5, OWN_CHECKS, n) for n in whole]
        made += [_paired(name, scenario, 5, USUAL_CHECKS, n) for n in whole]
        made += [_paired(name, scenario, 1, OWN_CHECKS, n) for n in one]
        made += [_review(name, replace(scenario, vehicles=n)) for n in REVIEWED[name]]
        made += [_alternating(name, scenario, n) for n in jobs]
    return tuple(made)


def _nulls() -> Iterator[Round]:
    shop = replace(EARLY, heat_ratio=1.0, vehicles=130)
    yield Round(
        "alike: trial, 15 pairs a vehicle, 130", _null(lambda s, r: by_pairs(shop, 5, OWN_CHECKS, s, r))
    )
    many = replace(EARLY, heat_ratio=1.0, vehicles=1200)
    yield Round("alike: trial, alternate jobs, 1200", _null(lambda s, r: by_jobs(many, s, r)))


def _paired(name: str, scenario: Scenario, pairs_of_panels: int, checks: Checks, vehicles: int) -> Round:
    shop = replace(scenario, vehicles=vehicles)
    looked = "" if checks is OWN_CHECKS else ", usual checks"
    title = f"{name}: trial, {PLACES * pairs_of_panels} pairs a vehicle{looked}, {vehicles}"
    return Round(title, _power(lambda seed, run: by_pairs(shop, pairs_of_panels, checks, seed, run)))


def _alternating(name: str, scenario: Scenario, vehicles: int) -> Round:
    shop = replace(scenario, vehicles=vehicles)
    title = f"{name}: trial, alternate jobs, {vehicles}"
    return Round(title, _power(lambda seed, run: by_jobs(shop, seed, run)))


def _review(name: str, shop: Scenario) -> Round:
    return Round(f"{name}: ordinary review, {shop.vehicles}", _reviewed(shop))
