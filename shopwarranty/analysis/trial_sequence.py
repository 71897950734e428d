"""Looking at a running trial as often as one likes, without being fooled by it.

Discordant pairs are fair coins when the arms are alike, because the tool drew which half got which arm.
A trial fixes beforehand how many it will count at most; the error is spent over them by the
O'Brien-Fleming-like function of Lan KKG, DeMets DL (1983) Biometrika 70:659-663, with a look after every
discordant pair, exactly, by counting paths of the binomial walk. Intervals are the repeated ones of
Jennison C, Turnbull BW (1989) J R Stat Soc B 51:305-361: they hold at every look at once.

Chosen beside the beta-mixture sequence of Robbins H (1970) Ann Math Stat 41:1397-1409, which needs no
largest number but half as many pairs again for the same power (`tests/analysis/test_trial_sequence.py`).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum
from functools import lru_cache
from math import ceil, inf, sqrt

import numpy as np
from scipy.special import ndtr, ndtri

from .arrays import FloatArray, IntArray
from .paired_size import POWER
from .paired_test import Discordant, odds
from .proportions import Interval

ALPHA = 0.05
MARGIN = 2.0


class Said(Enum):
    RUNNING = "running"
    MORE = "more"
    FEWER = "fewer"
    NO_DIFFERENCE = "no_difference"
    CANNOT_SAY = "cannot_say"


@dataclass(frozen=True, slots=True)
class Plan:
    """Fixed before the first pair: most discordant pairs counted, ratio that matters (above 1), error."""

    most: int
    ratio: float = MARGIN
    alpha: float = ALPHA


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a trial stands. `settled_at`: the discordant pair at which the answer was reached."""

    said: Said
    counts: Discordant
    interval: Interval
    settled_at: int | None
    beyond: int


def spent(share: FloatArray, alpha: float) -> FloatArray:
    """Error of one side spent when that share (0 to 1] of the plan is counted."""
    return np.asarray(2 * (1 - ndtr(ndtri(1 - alpha / 2) / np.sqrt(share))))


@lru_cache(maxsize=4096)
def boundary(most: int, share: float, alpha: float) -> tuple[int, ...]:
    """Smallest count that is too many after 1..most coins of chance `share`; n + 1 where none is."""
    allowed = spent(np.arange(1, most + 1) / most, alpha)
    walk, used, ends = np.zeros(most + 2), 0.0, []
    walk[0] = 1.0
    for n in range(1, most + 1):
        walk[1 : n + 1] = walk[1 : n + 1] * (1 - share) + walk[:n] * share
        walk[0] *= 1 - share
        tail = walk[n::-1].cumsum()
        room = int(np.searchsorted(tail, allowed[n - 1] - used, side="right"))
        end = n + 1 - room
        used += float(walk[end : n + 1].sum())
        walk[end : n + 1] = 0.0
        ends.append(end)
    return tuple(ends)


def repeated_interval(counts: Discordant, plan: Plan, alpha: float) -> Interval:
    """Ratio other : usual with two-sided error `alpha` over all looks; counts within the plan."""
    if counts.total == 0:
        return Interval(0.0, inf)
    low = _lower_share(counts.other, counts.total, plan.most, alpha / 2)
    high = 1 - _lower_share(counts.usual, counts.total, plan.most, alpha / 2)
    return Interval(odds(low), odds(high))


def _lower_share(count: int, total: int, most: int, alpha: float) -> float:
    """The largest chance under which `count` of `total` is too many."""
    low, high = 0.0, count / total
    for _ in range(24):
        middle = (low + high) / 2
        if middle > 0 and count >= boundary(most, middle, alpha)[total - 1]:
            low = middle
        else:
            high = middle
    return low


def standing(signs: Iterable[bool], plan: Plan) -> Standing:
    """Where a trial stands after its discordant pairs in order; True: only the other arm failed.

    An answer once reached stands. Pairs beyond the plan are counted as `beyond` and change nothing.
    """
    order = list(signs)
    kept = order[: plan.most]
    said, settled = first_said(kept, plan)
    counts = Discordant(sum(kept), len(kept) - sum(kept))
    interval = repeated_interval(counts, plan, plan.alpha)
    return Standing(said, counts, interval, settled, len(order) - len(kept))


def first_said(signs: list[bool], plan: Plan) -> tuple[Said, int | None]:
    """The answer reached first among at most `most` signs in order, and the pair at which it was."""
    other = 0
    for n, sign in enumerate(signs, start=1):
        other += sign
        said = said_at(other, n, plan)
        if said is not Said.RUNNING:
            return said, n
    return (Said.CANNOT_SAY, plan.most) if len(signs) == plan.most else (Said.RUNNING, None)


def said_at(other: int, total: int, plan: Plan) -> Said:
    """What the counts say at this look, taken alone."""
    ends = boundary(plan.most, 0.5, plan.alpha / 2)
    if other >= ends[total - 1]:
        return Said.MORE
    if total - other >= ends[total - 1]:
        return Said.FEWER
    matters = boundary(plan.most, 1 / (1 + plan.ratio), plan.alpha)[total - 1]
    if other >= matters and total - other >= matters:
        return Said.NO_DIFFERENCE
    return Said.RUNNING


def chances(plan: Plan, share: float) -> dict[Said, float]:
    """Exact chances of each answer when only the other arm fails in `share` of discordant pairs."""
    walk = np.zeros(plan.most + 2)
    walk[0] = 1.0
    found = dict.fromkeys(Said, 0.0)
    for n in range(1, plan.most + 1):
        walk[1 : n + 1] = walk[1 : n + 1] * (1 - share) + walk[:n] * share
        walk[0] *= 1 - share
        for said, where in _regions(n, plan):
            found[said] += float(walk[where].sum())
            walk[where] = 0.0
    found[Said.CANNOT_SAY] = float(walk.sum())
    return found


def _regions(n: int, plan: Plan) -> list[tuple[Said, IntArray]]:
    counts = np.arange(n + 1)
    end = boundary(plan.most, 0.5, plan.alpha / 2)[n - 1]
    near = boundary(plan.most, 1 / (1 + plan.ratio), plan.alpha)[n - 1]
    more, fewer = counts >= end, n - counts >= end
    alike = (counts >= near) & (n - counts >= near) & ~more & ~fewer
    pairs = ((Said.MORE, more), (Said.FEWER, fewer), (Said.NO_DIFFERENCE, alike))
    return [(said, np.flatnonzero(where)) for said, where in pairs]


@lru_cache(maxsize=64)
def discordant_needed(ratio: float = MARGIN, alpha: float = ALPHA, power: float = POWER) -> int:
    """Discordant pairs a trial plans for, so that a difference of `ratio`, or none, is said in `power`."""
    share = ratio / (1 + ratio)
    z = float(ndtri(1 - alpha / 2)) / 2 + float(ndtri(power)) * sqrt(share * (1 - share))
    most = ceil((z / (share - 0.5)) ** 2)
    while not _enough(Plan(most, ratio, alpha), share, power):
        most += max(1, most // 50)
    return most


def _enough(plan: Plan, share: float, power: float) -> bool:
    return chances(plan, share)[Said.MORE] >= power and chances(plan, 0.5)[Said.NO_DIFFERENCE] >= power
