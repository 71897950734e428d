"""The record as the statistics take it, and every count with the rows it was made of."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

import numpy as np

from shopwarranty.analysis.claim_rates import MONTH_DAYS, Events, Watched
from shopwarranty.analysis.reporting import EVERYTHING_REPORTED, Reported, reported_share

from .asked import Asked
from .record import ClaimRow, JobRow, PromiseRecord, RemedyRow

UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True, eq=False)
class Counting:
    """What was asked for, from the record as of `today`.

    `jobs` of the family; `claims`, `remedies` of the family in the period; `unplaced`: claims that are
    about no known job or family, and so in no rate."""

    record: PromiseRecord
    asked: Asked
    today: date
    jobs: tuple[JobRow, ...]
    claims: tuple[ClaimRow, ...]
    remedies: tuple[RemedyRow, ...]
    unplaced: tuple[ClaimRow, ...]


def counting(record: PromiseRecord, asked: Asked, today: date) -> Counting:
    family = asked.family
    jobs = tuple(job for job in record.jobs if not family or family in job.families)
    of_job = {job.pk: job for job in jobs}
    in_time = [claim for claim in record.claims if asked.inside(claim.reported_on)]
    claims = tuple(claim for claim in in_time if is_about(claim, family, of_job))
    remedies = tuple(
        row
        for row in record.remedies
        if row.job in of_job and (not family or row.family == family) and asked.inside(row.on)
    )
    unplaced = tuple(claim for claim in in_time if _nowhere(claim, family, of_job))
    return Counting(record, asked, today, jobs, claims, remedies, unplaced)


def is_about(claim: ClaimRow, family: str, of_job: dict[int, JobRow]) -> bool:
    """Whether it is about one of these jobs and that family; on a job of one film nobody need say which."""
    if claim.job is None or claim.job not in of_job:
        return False
    if not family or family in claim.families:
        return True
    return not claim.families and of_job[claim.job].families == {family}


def _nowhere(claim: ClaimRow, family: str, of_job: dict[int, JobRow]) -> bool:
    """On no known job; or, of one family, on a job of several with nobody having said which film."""
    if claim.job is None:
        return True
    return bool(family) and claim.job in of_job and not claim.families and not is_about(claim, family, of_job)


def months_between(first: date, then: date) -> float:
    return (then - first).days / MONTH_DAYS


Known = Callable[[JobRow], date]


def watched_jobs(found: Counting, known: Known, *, whole: bool = False) -> tuple[Watched, dict[int, int]]:
    """Jobs as the rates need them, and the position of each by its id. `whole`: whatever the period.

    `known` gives the day from which events of a job are on record.
    """
    rows: list[tuple[float, ...]] = []
    places: dict[int, int] = {}
    for job in found.jobs:
        row = _watched(job, known(job), found, whole)
        if row is not None:
            places[job.pk] = len(rows)
            rows.append(row)
    columns = [np.array(column, dtype=float) for column in zip(*rows, strict=True)] or [np.zeros(0)] * 6
    entry, until, left, ends, ago, vehicle = columns
    return Watched(entry, until, left.astype(bool), ends, ago, vehicle.astype(np.int64)), places


def _watched(job: JobRow, known: date, found: Counting, whole: bool) -> tuple[float, ...] | None:
    """entry, until, left, ends, ago, vehicle; None where nothing of it lies in the period."""
    asked = Asked() if whole else found.asked
    begin = max(known, asked.since or known)
    last = min(found.today, asked.until or found.today)
    ends = None if job.last_day is None else job.last_day + timedelta(days=1)
    stop = min(day for day in (last, job.gone_on, ends) if day is not None)
    if begin > stop or job.handed_over_on > found.today:
        return None
    left = job.gone_on is not None and job.gone_on <= stop
    age = months_between(job.handed_over_on, ends) if ends else np.inf
    start = job.handed_over_on
    return (
        months_between(start, begin),
        months_between(start, stop),
        float(left),
        age,
        months_between(stop, found.today),
        float(job.vehicle),
    )


def claims_known(job: JobRow) -> date:
    return job.claims_on


def remedies_known(job: JobRow) -> date:
    return job.known_on


def events_of(rows: Iterable[tuple[int, date]], jobs: Sequence[JobRow], places: dict[int, int]) -> Events:
    """(job, day) as positions and ages; those of jobs that are not watched are left out."""
    handed = {job.pk: job.handed_over_on for job in jobs}
    kept = [(places[job], months_between(handed[job], day)) for job, day in rows if job in places]
    return Events(
        np.array([job for job, _ in kept], dtype=np.int64), np.array([age for _, age in kept], dtype=float)
    )


def delays(found: Counting) -> Reported:
    """How late claims come to be known: from the first report to the day they were received here."""
    rows = [(c.reported_on, c.received_on) for c in found.record.claims if c.received_on <= found.today]
    if not rows:
        return EVERYTHING_REPORTED
    delay = np.array([(received - reported).days for reported, received in rows])
    could = np.array([(found.today - reported).days for reported, _ in rows])
    return reported_share(np.maximum(delay, 0), np.maximum(could, 0))


@dataclass(frozen=True, slots=True)
class Spent:
    """Remedies of one kind: `without` of them have no cost recorded. `total` None: none has one."""

    key: str
    remedies: int
    without: int
    total: Decimal | None

    @property
    def mean(self) -> Decimal | None:
        known = self.remedies - self.without
        return self.total / known if self.total is not None and known else None


def spent(rows: Iterable[RemedyRow], by: Callable[[RemedyRow], str]) -> tuple[Spent, ...]:
    """One line a key: the dearest first, the unknown last."""
    groups: dict[str, list[RemedyRow]] = {}
    for row in rows:
        groups.setdefault(by(row), []).append(row)
    lines = [_spent(key, kept) for key, kept in groups.items()]
    return tuple(sorted(lines, key=lambda s: (s.key == UNKNOWN, -(s.total or 0), -s.remedies, s.key)))


def _spent(key: str, rows: Sequence[RemedyRow]) -> Spent:
    costs = [row.cost for row in rows if row.cost is not None]
    return Spent(key, len(rows), len(rows) - len(costs), sum(costs, Decimal(0)) if costs else None)


def all_spent(rows: Sequence[RemedyRow]) -> Spent:
    return _spent("", rows)


def cause_of(row: RemedyRow) -> str:
    """Not judged and judged to be unknown are both unknown."""
    return row.cause or UNKNOWN


def panel_of(row: RemedyRow) -> str:
    return row.panel
