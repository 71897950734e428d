"""Whole jobs compared: drawn in balanced blocks, watched in intervals, looked at as often as one likes.

A block is four jobs, two of each arm, in an order that follows from the seed. Jobs get the scores of
Finkelstein DM (1986) Biometrics 42:845-854 against the curve of all jobs seen so far, whatever their arm.
Were the arms alike, each of the six orders of a block would have been as likely, whatever was seen: so the
chances of every step are known exactly (re-randomisation, Edgington ES 1980), and the error is spent over the
information planned beforehand as in `trial_sequence`. Ratios come from score and information (Peto R, Pike
MC 1977 Br J Cancer 35:1-39): good near 1, a little too near 1 for large ones.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, groupby
from math import exp, inf, log

import numpy as np

from .arrays import FloatArray, IntArray
from .npmle import masses
from .paired_test import Discordant
from .proportions import Interval
from .trial_sequence import Plan, Said, spent
from .trial_strata import ScoreTest, Stratum, finkelstein_scores, stratified_score

BLOCK = 4
ORDERS = tuple(combinations(range(BLOCK), BLOCK // 2))
GRID = 40
"""Scores are rounded to fortieths, so that sums can be counted exactly."""
PER_FAILURE = 0.25
"""Information about the log ratio that a failing job brings, its arm being an even draw."""


@dataclass(frozen=True, slots=True)
class Unit:
    """One job: last seen clean and found failed in days after laying (inf: not failed); `other`: its arm.

    `at`: day since the trial began on which nothing more can be learnt of it; None: still open.
    """

    number: int
    other: bool
    last_clean: float
    found: float
    at: int | None

    @property
    def block(self) -> int:
        return (self.number - 1) // BLOCK


@dataclass(frozen=True, slots=True)
class JobsStanding:
    """As `trial_sequence.Standing`: counts are failing jobs; `settled_at`: the block that gave the answer."""

    said: Said
    counts: Discordant
    ratio: float | None
    interval: Interval
    settled_at: int | None
    beyond: int


@dataclass(frozen=True, slots=True)
class JobsAnswer:
    """`pairs`: jobs drawn; `settled`: jobs of closed blocks; `once`: as if looked at only now."""

    pairs: int
    settled: int
    standing: JobsStanding
    once: ScoreTest


@dataclass(frozen=True, slots=True, eq=False)
class _Step:
    """A closed block: the sum of the other arm's scores, and the same for every order it might have had."""

    units: tuple[Unit, ...]
    seen: int
    might: IntArray

    @property
    def information(self) -> float:
        return float((self.might.astype(np.float64) ** 2).mean()) / GRID**2


def jobs_answer(units: Sequence[Unit], plan: Plan) -> JobsAnswer:
    """Units in any order; blocks that are not complete or not closed count nothing yet."""
    steps = _steps(units)
    settled = [unit for step in steps for unit in step.units]
    return JobsAnswer(len(units), len(settled), _standing(steps, plan), once_of([settled]))


def once_of(shops: Iterable[Sequence[Unit]]) -> ScoreTest:
    """The arms compared as if looked at only now, each shop a stratum of its own."""
    return stratified_score(_stratum(units) for units in shops if units)


def _stratum(units: Sequence[Unit]) -> Stratum:
    left, right = _intervals(units)
    return Stratum(left, right, np.array([float(unit.other) for unit in units]))


def _intervals(units: Sequence[Unit]) -> tuple[FloatArray, FloatArray]:
    return np.array([unit.last_clean for unit in units]), np.array([unit.found for unit in units])


def _steps(units: Sequence[Unit]) -> list[_Step]:
    """In the order in which blocks closed. The curve is fitted anew whenever their number has doubled."""
    closed = sorted(_closed(units), key=lambda block: (max(u.at or 0 for u in block), block[0].number))
    steps: list[_Step] = []
    curve: tuple = ()  # type: ignore[type-arg]
    for number, block in enumerate(closed, start=1):
        if number & (number - 1) == 0:
            left, right = _intervals([unit for each in closed[:number] for unit in each])
            told = (left > 0) | (right < inf)
            curve = masses(left[told], right[told], np.ones(int(told.sum())))
        scores = finkelstein_scores(*_intervals(block), curve) if curve else np.zeros(BLOCK)
        steps.append(_step(block, scores))
    return steps


def _closed(units: Sequence[Unit]) -> Iterator[tuple[Unit, ...]]:
    ordered = sorted(units, key=lambda unit: unit.number)
    for _block, group in groupby(ordered, key=lambda unit: unit.block):
        whole = tuple(group)
        balanced = len(whole) == BLOCK and sum(unit.other for unit in whole) == BLOCK // 2
        if balanced and all(unit.at is not None for unit in whole):
            yield whole


def _step(block: tuple[Unit, ...], scores: FloatArray) -> _Step:
    centred = np.rint(GRID * (scores - scores.mean())).astype(np.int64)
    centred[np.abs(centred).argmax()] -= centred.sum()  # rounding must not give a block a direction
    might = np.array([centred[list(order)].sum() for order in ORDERS])
    seen = next(
        sums for order, sums in zip(ORDERS, might, strict=True) if all(block[place].other for place in order)
    )
    return _Step(block, int(seen), might)


def _standing(steps: Sequence[_Step], plan: Plan) -> JobsStanding:
    """An answer once reached stands; blocks beyond the planned information change nothing."""
    gained = np.cumsum([step.information for step in steps])
    planned = plan.most * PER_FAILURE
    kept = steps[: int(np.searchsorted(gained, planned)) + 1]
    walk, gained = np.cumsum([step.seen for step in kept]) / GRID, gained[: len(kept)]
    shares = np.minimum(1.0, gained / planned)
    ends = _boundary(kept, shares, plan.alpha / 2) / GRID
    near = _boundary(kept, shares, plan.alpha) / GRID
    said, settled = _first_said(walk, gained, ends, near, plan)
    failed = [unit.other for step in kept for unit in step.units if unit.found < inf]
    counts = Discordant(sum(failed), len(failed) - sum(failed))
    ratio = _ratio(float(walk[-1] / gained[-1])) if len(kept) and gained[-1] > 0 else None
    interval = _interval(walk, gained, ends)
    return JobsStanding(said, counts, ratio, interval, settled, len(steps) - len(kept))


def _interval(walk: FloatArray, gained: FloatArray, ends: FloatArray) -> Interval:
    """As of the last look that had error to spend; it holds at every look at once."""
    told = np.flatnonzero(np.isfinite(ends) & (gained > 0))
    if not len(told):
        return Interval(0.0, inf)
    at = told[-1]
    low, high = (float((walk[at] - side * ends[at]) / gained[at]) for side in (1, -1))
    return Interval(_ratio(low), _ratio(high))


def _ratio(log_ratio: float) -> float:
    return inf if log_ratio > 700 else exp(log_ratio) if log_ratio > -700 else 0.0


def _first_said(
    walk: FloatArray, gained: FloatArray, ends: FloatArray, near: FloatArray, plan: Plan
) -> tuple[Said, int | None]:
    margin = log(plan.ratio)
    for block, (score, information) in enumerate(zip(walk, gained, strict=True)):
        if information <= 0:
            continue
        if score >= ends[block]:
            return Said.MORE, block + 1
        if -score >= ends[block]:
            return Said.FEWER, block + 1
        if abs(score) + near[block] < margin * information:
            return Said.NO_DIFFERENCE, block + 1
    over = len(gained) > 0 and gained[-1] >= plan.most * PER_FAILURE
    return (Said.CANNOT_SAY, len(gained)) if over else (Said.RUNNING, None)


def _boundary(steps: Sequence[_Step], shares: FloatArray, alpha: float) -> FloatArray:
    """Smallest sum too large after each block, were the arms alike; inf where none is. In grid steps."""
    reach = int(sum(np.abs(step.might).max() for step in steps))
    walk, used, far = np.zeros(2 * reach + 1), 0.0, 0
    walk[reach] = 1.0
    ends = np.full(len(steps), inf)
    for number, (step, share) in enumerate(zip(steps, shares, strict=True)):
        far += int(np.abs(step.might).max())
        walk = _after(walk, step.might, reach, far)
        allowed = float(spent(np.array([share]), alpha)[0]) - used if share > 0 else 0.0
        end = _smallest(walk[reach : reach + far + 1], allowed)
        if end is not None:
            ends[number] = end
            used += float(walk[reach + end :].sum())
            walk[reach + end :] = 0.0
    return ends


def _after(walk: FloatArray, might: IntArray, reach: int, far: int) -> FloatArray:
    """Chances of the sums after one more block; those within `far` of nought are all there are."""
    after = np.zeros_like(walk)
    low, high = reach - far, reach + far + 1
    for shift in might:
        start, stop = max(low, low + int(shift)), min(high, high + int(shift))
        after[start:stop] += walk[start - int(shift) : stop - int(shift)]
    return after / len(might)


def _smallest(above: FloatArray, allowed: float) -> int | None:
    """The smallest sum that occurs and whose tail is at most `allowed`; `above` are chances from 0 up."""
    tail = np.cumsum(above[::-1])[::-1]
    found = np.flatnonzero((tail <= allowed) & (above > 0))
    return int(found[0]) if len(found) else None
