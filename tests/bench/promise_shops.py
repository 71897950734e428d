"""Shops whose claims follow a known law: what a forecast said beside what then happened.

A job's claims come at a rate that falls with age, times a factor of its vehicle (gamma, mean 1, variance
`frailty`); some jobs leave; claims reach the record late; some costs are never written down.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shopwarranty.analysis.arrays import FloatArray, IntArray
from shopwarranty.analysis.claim_rates import MONTH_DAYS, Events, Watched
from shopwarranty.analysis.forecast import Cost, Forecast, cost_of, forecast
from shopwarranty.analysis.reporting import reported_share
from tests.bench.rounds import Figures, Round, Value
from tests.bench.tally import Tally, tally

RUNS = 1000
GOAL = (0.85, 0.95)


@dataclass(frozen=True, slots=True)
class Law:
    """Months; `early` claims per job-month at the start fall to `late` with `falls` months."""

    jobs: int
    months: float = 36.0
    early: float = 0.04
    late: float = 0.01
    falls: float = 4.0
    frailty: float = 0.0
    second_job: float = 0.2
    leaving: float = 0.004
    ends: float = np.inf
    delay_days: float = 0.0
    costed: float = 0.8
    late_entry: float = 0.0


@dataclass(frozen=True, slots=True)
class Seen:
    """What was forecast, and what happened in the year after."""

    said: Forecast
    cost: Cost | None
    claims: int
    spent: float


def play(law: Law, seed: int, level: float = 0.9) -> Seen:
    rng = np.random.default_rng(seed)
    start, vehicle = _jobs(rng, law)
    factor = rng.gamma(1 / law.frailty, law.frailty, vehicle.max() + 1) if law.frailty else None
    leaves = start + rng.exponential(1 / law.leaving, law.jobs) if law.leaving else np.full(law.jobs, np.inf)
    stop = np.minimum(np.minimum(leaves, start + law.ends), law.months + 12)
    job, at = _claims(rng, law, start, stop, np.ones(law.jobs) if factor is None else factor[vehicle])
    delay = rng.exponential(law.delay_days, len(at)).astype(int) if law.delay_days else np.zeros(len(at), int)
    cost = np.round(rng.lognormal(4.4, 0.7, len(at)), 2)
    noted = rng.random(len(at)) < law.costed
    entry = np.where(rng.random(law.jobs) < law.late_entry, np.maximum(law.months - 6 - start, 0.0), 0.0)
    until = np.minimum(stop, law.months) - start
    watched = Watched(
        np.minimum(entry, until),
        until,
        leaves <= law.months,
        np.full(law.jobs, law.ends),
        np.maximum(law.months - np.minimum(stop, law.months), 0.0),
        vehicle,
    )
    known = at + delay / MONTH_DAYS <= law.months
    seen = known & (at - start[job] >= entry[job])
    events = Events(job[seen], (at - start[job])[seen])
    could = np.floor((law.months - at[known]) * MONTH_DAYS).astype(int)
    said = forecast(
        watched, events, level=level, reported=reported_share(np.minimum(delay[known], could), could)
    )
    later = at > law.months
    priced = cost_of(said.counted, cost[seen & noted], int(seen.sum()), level=level) if said.counted else None
    return Seen(said, priced, int(later.sum()), float(cost[later].sum()))


def _jobs(rng: np.random.Generator, law: Law) -> tuple[FloatArray, IntArray]:
    """The shop grows: later months have more jobs. Some vehicles come a second time."""
    start = law.months * np.sqrt(rng.random(law.jobs))
    vehicle = np.arange(law.jobs)
    again = rng.random(law.jobs) < law.second_job
    vehicle[again] = rng.integers(0, law.jobs, int(again.sum()))
    return start, vehicle


def _claims(
    rng: np.random.Generator, law: Law, start: FloatArray, stop: FloatArray, factor: FloatArray
) -> tuple[IntArray, FloatArray]:
    """By thinning: candidates at the highest rate, kept by the rate at their age."""
    drawn = rng.poisson(law.early * factor * (stop - start))
    job = np.repeat(np.arange(law.jobs), drawn)
    at = start[job] + rng.random(len(job)) * (stop - start)[job]
    rate = law.late + (law.early - law.late) * np.exp(-(at - start[job]) / law.falls)
    kept = rng.random(len(job)) < rate / law.early
    return job[kept], at[kept]


LAWS = {
    "independent, 400 jobs": Law(400),
    "vehicles differ, 400 jobs": Law(400, frailty=1.5),
    "vehicles differ much, second jobs, 250 jobs": Law(250, frailty=3.0, second_job=0.4),
    "reported late, 400 jobs": Law(400, frailty=1.0, delay_days=40.0),
    "promise ends after two years": Law(400, frailty=1.0, ends=24.0, leaving=0.01),
    "came under record late, half the costs noted": Law(400, frailty=1.0, late_entry=0.5, costed=0.5),
    "thin, 120 jobs": Law(120, frailty=1.0),
}


@dataclass(frozen=True, slots=True)
class Coverage:
    """Share of forecasts whose interval held what happened; `told` of all runs said something."""

    claims: Tally
    cost: Tally
    told: int
    below: float
    above: float

    @property
    def reached(self) -> bool:
        return self.claims.reaches(*GOAL) and self.cost.reaches(*GOAL)


def coverage(law: Law, seed: int, runs: int = RUNS) -> Coverage:
    claims: list[list[bool]] = []
    costs: list[list[bool]] = []
    below = above = 0
    for run in range(runs):
        seen = play(law, seed + run)
        found = seen.said.counted
        if found is None:
            continue
        claims.append([found.interval.low <= seen.claims <= found.interval.high])
        below, above = below + (seen.claims < found.interval.low), above + (seen.claims > found.interval.high)
        if seen.cost is not None:
            costs.append([seen.cost.interval.low <= seen.spent <= seen.cost.interval.high])
    told = max(1, len(claims))
    return Coverage(tally(claims), tally(costs), len(claims), below / told, above / told)


def _round(name: str, law: Law) -> Round:
    def run(seed: int) -> Figures:
        found = coverage(law, seed)
        values: dict[str, Value] = {
            "claims": found.claims.written,
            "cost": found.cost.written,
            "told": found.told,
            "of": RUNS,
            "below": found.below,
            "above": found.above,
        }
        return Figures(found.reached, values)

    return Round(name, run)


def rounds() -> tuple[Round, ...]:
    return tuple(_round(name, law) for name, law in LAWS.items())
