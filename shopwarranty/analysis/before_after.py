"""Did a method changed on a day go with fewer failures? What was laid before against what was laid since.

Everything laid since is younger, so plain shares would flatter the change; the comparison is made at equal
ages by the interval-censored fit of `hazard`, beside the adjustment set. Two things fool such a comparison
and are looked at with it: failures that were already falling (or rising) before the day, by holding the later
half of the time before against the earlier one, and whatever else changed with the season, which nothing
here can see. So it says "goes with" and never "because of".

Shadish WR, Cook TD, Campbell DT (2002) Experimental and Quasi-experimental Designs, chapter 6; Bernal JL,
Cummins S, Gasparrini A (2017) Int J Epidemiol 46:348-355 on what was already moving.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np

from .arrays import BoolArray, IntArray
from .bands import CHECK_BANDS, Bands
from .effects import Contrast, contrasts, prepare
from .exposure import Lives, edge_days
from .patterns import Factor
from .verdicts import ALIKE, FEWEST_EXPECTED

BEFORE, SINCE = "before", "since"
EARLIER, LATER = "earlier", "later"
MOVING_AT = 0.10
"""p below which failures count as already moving before the day: a warning is cheaper than a false praise."""
CALLED_AT = 0.05


class Told(Enum):
    """What may be said of the change; a question asked by itself, so its own 5 % and no correction."""

    FEWER = "goes with fewer failures"
    MORE = "goes with more failures"
    NO_DIFFERENCE = "no clear difference"
    NOT_YET = "cannot tell yet"
    ALREADY_MOVING = "was already changing before"


@dataclass(frozen=True, slots=True)
class BeforeAfter:
    """The comparison; contrasts are of `since` against `before`, and `later` against `earlier` before.

    change     None when one side has no watched place or nothing was found failing
    moving     None when the time before cannot be cut in two
    edge_days  clean days and half of each failing interval, before and since
    oldest     highest age looked at, days, before and since: what was laid since is young
    """

    told: Told
    change: Contrast | None
    moving: Contrast | None
    edge_days: tuple[float, float]
    oldest: tuple[int, int]


def before_after(
    lives: Lives,
    starts: IntArray,
    changed_on: int,
    adjustment: Sequence[Factor] = (),
    *,
    within: int | None = None,
    bands: Bands = CHECK_BANDS,
) -> BeforeAfter:
    """Lives that started on `changed_on` or later against those that started before.

    starts      day number on which each life started (date.toordinal), shape (n,)
    changed_on  day number of the change
    adjustment  factors held equal (panel, kind of place, installer ...), each of shape (n,)
    within      only lives that started so many days before or after the change; None: all

    Raises ValueError for arrays of unequal length or `within` below 1.
    """
    starts = np.asarray(starts)
    if len(starts) != len(lives):
        raise ValueError("starts and lives differ in length")
    if within is not None and within < 1:
        raise ValueError("at least a day on either side")
    near = lives.watched if within is None else lives.watched & (np.abs(starts - changed_on + 0.5) < within)
    seen, days = lives.only(near), starts[near]
    mix = [factor.only(near) for factor in adjustment]
    since = np.asarray(days >= changed_on, dtype=np.int64)
    change = _against(seen, mix, Factor("change", since, (BEFORE, SINCE)), bands)
    moving = _moving(seen, days, since == 0, mix, bands)
    own = edge_days(seen)
    return BeforeAfter(
        told=told_of(change, moving),
        change=change,
        moving=moving,
        edge_days=(float(own[since == 0].sum()), float(own[since == 1].sum())),
        oldest=(_oldest(seen, since == 0), _oldest(seen, since == 1)),
    )


def told_of(change: Contrast | None, moving: Contrast | None) -> Told:
    """In order: too little; already moving the same way; called at 5 %; inside the margin; else open."""
    if change is None or min(change.expected, change.reference_expected) < FEWEST_EXPECTED:
        return Told.NOT_YET
    if change.p < CALLED_AT:
        alike = moving is not None and moving.log_ratio * change.log_ratio > 0
        if moving is not None and alike and moving.p < MOVING_AT:
            return Told.ALREADY_MOVING
        return Told.FEWER if change.log_ratio < 0 else Told.MORE
    low, high = change.interval(0.9)
    return Told.NO_DIFFERENCE if ALIKE[0] < low and high < ALIKE[1] else Told.NOT_YET


def _moving(
    lives: Lives, starts: IntArray, before: BoolArray, mix: Sequence[Factor], bands: Bands
) -> Contrast | None:
    """The later half (by watched lives) of the time before against the earlier half."""
    rows = np.flatnonzero(before)
    if not rows.size:
        return None
    middle = int(np.median(starts[rows]))
    later = np.asarray(starts[rows] > middle, dtype=np.int64)
    parts = [factor.only(rows) for factor in mix]
    return _against(lives.only(rows), parts, Factor("moving", later, (EARLIER, LATER)), bands)


def _against(lives: Lives, mix: Sequence[Factor], sides: Factor, bands: Bands) -> Contrast | None:
    counted = np.bincount(sides.codes, minlength=2)
    if not lives.found.any() or counted.min() == 0:
        return None
    return contrasts(prepare(lives, mix, bands), sides)[0]


def _oldest(lives: Lives, which: BoolArray) -> int:
    return int(np.maximum(lives.clean, lives.failed)[which].max(initial=0))
