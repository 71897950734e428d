"""How often promises are called upon, by month of age: events per job-month with late entry and leaving.

A job is watched from the age at which the record begins to speak of it to the age at which it left (film
gone, certificate withdrawn) or today; only that time counts below the line. Jobs of one vehicle share its
fate: the vehicle is the cluster. Kalbfleisch JD, Lawless JF, Robinson JA (1991) Methods for the analysis and
prediction of warranty claims, Technometrics 33:273-285; variance over clusters after Lawless JF, Nadeau C
(1995) Technometrics 37:158-168; exact Poisson limits after Garwood F (1936) Biometrika 28:437-442.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, exp, sqrt

import numpy as np
from scipy.special import gammaincinv

from .arrays import BoolArray, FloatArray, IntArray
from .exposure import clusters_from_zero
from .proportions import Interval
from .reporting import EVERYTHING_REPORTED, Reported

MONTH_DAYS = 365.25 / 12
"""A month of age is a twelfth of a year."""


@dataclass(frozen=True, slots=True, eq=False)
class Watched:
    """One entry a job, shape (n,); ages in months.

    entry    age at which the record begins to speak of it; 0 = from handover
    until    age at which it was last in service on record; not below `entry`
    left     True where it left at `until`: nothing more can come of it
    ends     age at which the promise itself ends; inf where no end is known
    ago      months between `until` and the day the record is read; 0 for what is still in service
    vehicle  which vehicle; any whole numbers

    Raises ValueError for columns of unequal length, and for an age that lies before entry.
    """

    entry: FloatArray
    until: FloatArray
    left: BoolArray
    ends: FloatArray
    ago: FloatArray
    vehicle: IntArray

    def __post_init__(self) -> None:
        columns = (self.entry, self.until, self.left, self.ends, self.ago, self.vehicle)
        if len({c.shape for c in columns}) != 1 or self.entry.ndim != 1:
            raise ValueError("the columns of watched jobs differ in length")
        if np.any(self.entry < 0) or np.any(self.until < self.entry) or np.any(self.ago < 0):
            raise ValueError("a job cannot be watched before it began")

    def __len__(self) -> int:
        return len(self.entry)

    @property
    def in_service(self) -> BoolArray:
        staying: BoolArray = ~self.left & (self.until < self.ends)
        return staying


@dataclass(frozen=True, slots=True, eq=False)
class Events:
    """Claims, or remedies: the job (position in Watched) and its age in months then; shape (m,)."""

    job: IntArray
    age: FloatArray

    def __len__(self) -> int:
        return len(self.job)


@dataclass(frozen=True, slots=True)
class Band:
    """Months of age from `first` to `last`, both included; the last band has no end where `last` is None."""

    first: int
    last: int | None


@dataclass(frozen=True, slots=True)
class AgeRate:
    """One month of age, or several: `rate` events per job-month, None where nothing was watched.

    `exposure` in job-months, lowered by what may not have been reported yet.
    """

    band: Band
    events: int
    exposure: float
    rate: float | None
    interval: Interval | None


@dataclass(frozen=True, slots=True, eq=False)
class Table:
    """Events and exposure by cluster and band, shape (vehicles, bands)."""

    events: FloatArray
    exposure: FloatArray

    @property
    def rates(self) -> FloatArray:
        """Per job-month, shape (bands,); 0 where nothing was watched."""
        below = self.exposure.sum(axis=0)
        found: FloatArray = np.divide(
            self.events.sum(axis=0), below, out=np.zeros_like(below), where=below > 0
        )
        return found

    @property
    def expected(self) -> FloatArray:
        """Of each vehicle by the rates of all, shape (vehicles,)."""
        found: FloatArray = self.exposure @ self.rates
        return found


def month_table(
    watched: Watched, events: Events, bands: Sequence[Band], reported: Reported = EVERYTHING_REPORTED
) -> Table:
    """Sums by vehicle and band. An event outside its job's watched time counts nowhere."""
    cluster, count = clusters_from_zero(watched.vehicle)
    shape = (max(count, 1), len(bands))
    exposure, happened = np.zeros(shape), np.zeros(shape)
    kept = watched_events(watched, events)
    for column, band in enumerate(bands):
        time = band_exposure(watched, band, reported)
        exposure[:, column] = np.bincount(cluster, time, minlength=shape[0])[: shape[0]]
        inside = kept & (events.age >= band.first)
        inside &= True if band.last is None else events.age < band.last + 1
        happened[:, column] = np.bincount(cluster[events.job[inside]], minlength=shape[0])[: shape[0]]
    return Table(happened, exposure)


def watched_events(watched: Watched, events: Events) -> BoolArray:
    """True for events within the watched time of their job, shape (m,)."""
    late = events.age >= watched.entry[events.job]
    kept: BoolArray = late & (events.age <= watched.until[events.job])
    return kept


def band_exposure(watched: Watched, band: Band, reported: Reported = EVERYTHING_REPORTED) -> FloatArray:
    """Months of each job within the band, shape (n,); a band over several months is summed month by month.

    Recent months count for the share of events that is known of by today.
    """
    end = last_month(watched) if band.last is None else band.last
    found = np.zeros(len(watched))
    for month in range(band.first, end + 1):
        low = np.clip(watched.entry, month, month + 1)
        high = np.clip(watched.until, month, month + 1)
        lag = watched.ago + watched.until - (low + high) / 2
        found += (high - low) * reported.by(np.maximum(lag, 0.0) * MONTH_DAYS)
    return found


def last_month(watched: Watched) -> int:
    """The last month of age that anything was watched in; -1 for none."""
    return ceil(float(watched.until.max())) - 1 if len(watched) else -1


def months(watched: Watched) -> tuple[Band, ...]:
    return tuple(Band(month, month) for month in range(last_month(watched) + 1))


def bands_with(events: FloatArray, least: int) -> tuple[Band, ...]:
    """Months put together from the oldest down until each band holds `least` events; `least` 0: every month.

    `events` by month of age. The oldest band has no end: what is older than anything watched goes by it.
    """
    if least <= 0:
        return tuple(Band(month, month) for month in range(len(events)))
    cuts, gathered = [], 0.0
    for month in range(len(events) - 1, 0, -1):
        gathered += events[month]
        if gathered >= least:
            cuts.append(month)
            gathered = 0.0
    if cuts and gathered + events[0] < least:
        cuts.pop()
    starts = [0, *reversed(cuts)]
    lasts: list[int | None] = [start - 1 for start in starts[1:]]
    return tuple(Band(first, last) for first, last in zip(starts, [*lasts, None], strict=True))


def dispersion(table: Table) -> float:
    """Variance of a vehicle's events over their mean, at least 1 (Poisson)."""
    expected = table.expected
    total = expected.sum()
    spread = ((table.events.sum(axis=1) - expected) ** 2).sum()
    return max(1.0, float(spread / total)) if total > 0 else 1.0


def poisson_interval(count: float, exposure: float, inflated: float = 1.0, level: float = 0.95) -> Interval:
    """Exact limits of a rate; count and exposure are divided by `inflated`, as by a design effect.

    Raises ValueError unless exposure > 0, count >= 0, inflated >= 1.
    """
    if exposure <= 0 or count < 0 or inflated < 1:
        raise ValueError(f"{count} over {exposure} is not a rate")
    tail, n, below = (1 - level) / 2, count / inflated, exposure / inflated
    low = 0.0 if n == 0 else float(gammaincinv(n, tail)) / below
    return Interval(low, float(gammaincinv(n + 1, 1 - tail)) / below)


def rates_by(
    watched: Watched,
    events: Events,
    bands: Sequence[Band],
    reported: Reported = EVERYTHING_REPORTED,
    level: float = 0.95,
) -> tuple[AgeRate, ...]:
    """One line a band, each with its interval; a vehicle that claims often widens all of them."""
    table = month_table(watched, events, bands, reported)
    counts, below = table.events.sum(axis=0), table.exposure.sum(axis=0)
    inflated = dispersion(table)
    return tuple(
        AgeRate(band, int(n), float(time), float(n / time), poisson_interval(n, time, inflated, level))
        if time > 0
        else AgeRate(band, int(n), 0.0, None, None)
        for band, n, time in zip(bands, counts, below, strict=True)
    )


@dataclass(frozen=True, slots=True)
class ByAge:
    """Events per job up to an age, with its interval."""

    months: int
    mean: float
    interval: Interval


def by_age(
    watched: Watched, events: Events, upto: int, reported: Reported = EVERYTHING_REPORTED
) -> ByAge | None:
    """The rates up to `upto` months added up, with the 95 % interval; None before all of them were watched.

    The interval is taken on the logarithm; none seen gives the exact upper limit of the pooled rate.
    """
    table = month_table(watched, events, tuple(Band(month, month) for month in range(upto)), reported)
    below = table.exposure.sum(axis=0)
    if not np.all(below > 0):
        return None
    mean = float(table.rates.sum())
    if mean == 0:
        return ByAge(upto, 0.0, Interval(0.0, upto * poisson_interval(0, float(below.sum())).high))
    wide = 1.96 * sqrt(variance_of(table, np.ones(upto))) / mean
    return ByAge(upto, mean, Interval(mean * exp(-wide), mean * exp(wide)))


def variance_of(table: Table, weights: FloatArray) -> float:
    """Of the weighted sum of the rates: over clusters, and never below Poisson."""
    below = table.exposure.sum(axis=0)
    seen = below > 0
    scaled = np.where(seen, weights / np.where(seen, below, 1.0), 0.0)
    plain = float((scaled**2 * table.events.sum(axis=0)).sum())
    each = (table.events - table.exposure * table.rates) @ scaled
    vehicles = int((table.exposure.sum(axis=1) > 0).sum())
    robust = float((each**2).sum()) * vehicles / (vehicles - 1) if vehicles > 1 else plain
    return max(plain, robust)


def poisson_variance_of(table: Table, weights: FloatArray) -> float:
    """Of the weighted sum of the rates, were all events independent."""
    below = table.exposure.sum(axis=0)
    scaled = np.divide(weights, below, out=np.zeros_like(below), where=below > 0)
    return float((scaled**2 * table.events.sum(axis=0)).sum())
