"""What the promises given so far will be called upon for: events and cost of the months to come.

The time each job in service will spend at each age, times the rate at that age (Kalbfleisch JD, Lawless JF,
Robinson JA (1991) Technometrics 33:273-285). The interval holds what the rates leave open, what chance adds,
and that some vehicles claim more than others; its ends come from a negative binomial of that mean and
variance, for cost from a gamma distribution. Jobs to come are in none of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from math import sqrt

import numpy as np
from scipy.special import betainc, gammaincinv, pdtr

from .arrays import FloatArray
from .claim_rates import (
    Band,
    Events,
    Table,
    Watched,
    band_exposure,
    bands_with,
    last_month,
    month_table,
    months,
    poisson_variance_of,
    variance_of,
)
from .exposure import clusters_from_zero
from .proportions import Interval
from .reporting import EVERYTHING_REPORTED, Reported

LEAST_EVENTS = 10
LEAST_VEHICLES = 6
LEAST_IN_SERVICE = 20
MOST_BEYOND = 0.5
LEAST_COSTS = 10
LEAST_COSTS_SHARE = 1 / 3
LEAST_IN_BAND = 5
HARDLY_WATCHED = 6.0
"""Job-months at an age below which it counts as not watched yet."""


class CannotTell(Enum):
    """Why nothing is forecast yet."""

    NONE_IN_SERVICE = "too few jobs in service"
    FEW_EVENTS = "too few events"
    FEW_VEHICLES = "too few vehicles with an event"
    TOO_YOUNG = "most of the time ahead lies at ages never watched"
    FEW_COSTS = "too few costs recorded"


@dataclass(frozen=True, slots=True)
class Counted:
    """`mean` with its interval, in events. `beyond`: share of the time ahead at ages hardly watched yet.

    `sd_rates`: what the rates leave open; `sd`: all of it.
    """

    mean: float
    sd_rates: float
    sd: float
    interval: Interval
    beyond: float


@dataclass(frozen=True, slots=True)
class Forecast:
    """`counted` None: `why` says what is missing. `in_service` jobs, `ahead` job-months to come."""

    counted: Counted | None
    why: tuple[CannotTell, ...]
    in_service: int
    ahead: float
    leaving: float


@dataclass(frozen=True, slots=True)
class Cost:
    """In the unit of the costs given; `recorded` costs of `of` events say what one costs."""

    mean: float
    interval: Interval
    one: float
    recorded: int
    of: int


@dataclass(frozen=True, slots=True, eq=False)
class Ahead:
    """Job-months to come by vehicle and band, shape (vehicles, bands), and those at ages hardly watched."""

    months: FloatArray
    beyond: float


def leaving_rate(watched: Watched) -> float:
    """Jobs that left per job-month; the other way out of service than the end of the promise."""
    total = float((watched.until - watched.entry).sum())
    return float(watched.left.sum()) / total if total > 0 else 0.0


def time_ahead(watched: Watched, bands: tuple[Band, ...], span: float, leaving: float) -> Ahead:
    """Until the promise ends or `span` months are over, lowered by those who will have left by then."""
    cluster, count = clusters_from_zero(watched.vehicle)
    begin = watched.until
    end = np.where(watched.in_service, np.minimum(begin + span, watched.ends), begin)
    seen = [band_exposure(watched, band).sum() >= HARDLY_WATCHED for band in months(watched)]
    found, beyond = np.zeros((max(count, 1), len(bands))), 0.0
    for month in range(int(np.floor(begin.min())), int(np.ceil(end.max()))) if len(watched) else ():
        low, high = np.clip(begin, month, month + 1), np.clip(end, month, month + 1)
        time = (high - low) * np.exp(-leaving * np.maximum((low + high) / 2 - begin, 0.0))
        column = next((n for n, b in enumerate(bands) if b.last is None or month <= b.last), None)
        if column is not None:
            found[:, column] += np.bincount(cluster, time, minlength=count)
        beyond += 0.0 if month < len(seen) and seen[month] else float(time.sum())
    return Ahead(found, beyond)


def frailty_variance(table: Table) -> float:
    """How much the vehicles' own rates vary about the common one (squared coefficient), by moments; >= 0."""
    expected = table.expected
    squares = float((expected**2).sum())
    extra = float(((table.events.sum(axis=1) - expected) ** 2 - expected).sum())
    return max(0.0, extra / squares) if squares > 0 else 0.0


def counted(table: Table, ahead: Ahead, *, level: float, by_vehicle: bool = True) -> Counted:
    """`by_vehicle` False: every event independent of every other, as the published formula has it."""
    weights, rates = ahead.months.sum(axis=0), table.rates
    each = ahead.months @ rates
    mean = float(each.sum())
    open_rates = (variance_of if by_vehicle else poisson_variance_of)(table, weights)
    chance = mean + (frailty_variance(table) * float((each**2).sum()) if by_vehicle else 0.0)
    variance, total = open_rates + chance, float(ahead.months.sum())
    return Counted(
        mean,
        sqrt(open_rates),
        sqrt(variance),
        count_interval(mean, variance, level),
        ahead.beyond / total if total > 0 else 0.0,
    )


def forecast(
    watched: Watched,
    events: Events,
    *,
    span: float = 12.0,
    level: float = 0.9,
    reported: Reported = EVERYTHING_REPORTED,
) -> Forecast:
    """Events of the next `span` months of the jobs in service now, or why it cannot be told yet."""
    leaving = leaving_rate(watched)
    by_month = month_table(watched, events, months(watched), reported).events.sum(axis=0)
    bands = bands_with(by_month, LEAST_IN_BAND) if last_month(watched) >= 0 else (Band(0, None),)
    table = month_table(watched, events, bands, reported)
    ahead = time_ahead(watched, bands, span, leaving)
    found = counted(table, ahead, level=level)
    why = _missing(watched, table, found)
    in_service, time = int(watched.in_service.sum()), float(ahead.months.sum())
    return Forecast(None if why else found, why, in_service, time, leaving)


def _missing(watched: Watched, table: Table, found: Counted) -> tuple[CannotTell, ...]:
    total, vehicles = table.events.sum(), (table.events.sum(axis=1) > 0).sum()
    rules: tuple[tuple[bool, CannotTell], ...] = (
        (watched.in_service.sum() < LEAST_IN_SERVICE, CannotTell.NONE_IN_SERVICE),
        (total < LEAST_EVENTS, CannotTell.FEW_EVENTS),
        (total >= LEAST_EVENTS and vehicles < LEAST_VEHICLES, CannotTell.FEW_VEHICLES),
        (found.beyond > MOST_BEYOND, CannotTell.TOO_YOUNG),
    )
    return tuple(why for holds, why in rules if holds)


def cost_of(found: Counted, costs: FloatArray, events: int, *, level: float = 0.9) -> Cost | None:
    """What the events will cost, by the recorded costs of those so far; None where too few are recorded.

    A cost nobody recorded is not zero: the others stand for it. `costs` of shape (k,), k <= events.
    """
    known = len(costs)
    if known < LEAST_COSTS or known < LEAST_COSTS_SHARE * events:
        return None
    one, spread = float(costs.mean()), float(costs.var(ddof=1))
    mean = found.mean * one
    variance = found.mean * spread + found.sd**2 * one**2 + found.mean**2 * spread / known
    return Cost(mean, amount_interval(mean, variance, level), one, known, events)


def count_interval(mean: float, variance: float, level: float) -> Interval:
    """Whole numbers around a count: negative binomial of that mean and variance, else Poisson."""
    tail = (1 - level) / 2
    return Interval(_count_at(mean, variance, tail), _count_at(mean, variance, 1 - tail))


def _count_at(mean: float, variance: float, p: float) -> float:
    """The smallest whole number not exceeded with chance p."""
    if mean <= 0:
        return 0.0
    top = int(mean + 12 * sqrt(max(variance, mean)) + 12)
    numbers = np.arange(top + 1)
    below = _below(numbers.astype(np.float64), mean, variance)
    return float(numbers[min(int(np.searchsorted(below, p)), top)])


def _below(numbers: FloatArray, mean: float, variance: float) -> FloatArray:
    over = variance - mean
    if over <= 1e-9 * mean:
        found: FloatArray = pdtr(numbers, mean)
        return found
    size = mean * mean / over
    found = betainc(size, numbers + 1, size / (size + mean))
    return found


def amount_interval(mean: float, variance: float, level: float) -> Interval:
    """Around an amount that cannot be negative: gamma of that mean and variance."""
    if mean <= 0 or variance <= 0:
        return Interval(max(mean, 0.0), max(mean, 0.0))
    tail, shape, scale = (1 - level) / 2, mean * mean / variance, variance / mean
    return Interval(float(gammaincinv(shape, tail)) * scale, float(gammaincinv(shape, 1 - tail)) * scale)
