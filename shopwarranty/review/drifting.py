"""Is the work slipping? One sum for the whole shop and one for each installer, a vehicle a step as laid.

A slow instrument: a doubling is found within a year in half to four fifths of shops, and a page that shows it
says so. Only the last two years of laying are looked at, since the limit is for so long a stretch.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np

from shopwarranty.analysis.drift import cusum, limit_for
from shopwarranty.analysis.groups import Whole
from shopwarranty.analysis.lots import vehicle_spread
from shopwarranty.analysis.questions import NOT_RECORDED_LEVEL

from .asking import Asked
from .columns import BoolArray, IntArray

WINDOW_DAYS: Final = 730
FEWEST_VEHICLES: Final = 30
FEWEST_EXPECTED: Final = 5.0
"""Below either a stream has no limit worth the name; a judgement."""

STREAMS: Final = 1000
FALSE_ALARMS: Final = 0.10
"""Over all streams of a shop together: five people looked at each at a tenth would be accused too often."""


@dataclass(frozen=True, slots=True)
class DriftOf:
    """One stream. `level`: whose work; "" for the whole shop. `days`: when each vehicle was laid (ordinals).

    `path` and `limit`: the sum after each vehicle, and where it signals; `signal`: the day it first did.
    """

    level: str
    days: tuple[int, ...]
    path: tuple[float, ...]
    limit: float
    signal: date | None

    @property
    def vehicles(self) -> int:
        return len(self.days)


def drifts(
    asked: Asked, whole: Whole, starts: IntArray, bad_lots: BoolArray, seed: int
) -> tuple[DriftOf, ...]:
    """`starts`: day number on which each of the asked lives started; `bad_lots`: those of a lot over its
    line, which says why they fail, so that they are not held against whoever laid it; both of shape
    (len(asked.rows),)."""
    if whole.expected is None:
        return ()
    days = starts[whole.rows]
    recent = np.asarray(days > days.max() - WINDOW_DAYS) & ~bad_lots[whole.rows]
    streams = [("", recent)]
    factor = asked.factor("installer")
    if factor is not None and len(factor.levels) > 1:
        codes = factor.codes[whole.rows]
        levels = [(k, level) for k, level in enumerate(factor.levels) if level != NOT_RECORDED_LEVEL]
        streams += [(level, recent & (codes == k)) for k, level in levels]
    share = FALSE_ALARMS / len(streams)
    found = (_stream(level, which, days, whole, share, seed) for level, which in streams)
    return tuple(drift for drift in found if drift is not None)


def _stream(
    level: str, which: BoolArray, days: IntArray, whole: Whole, false_alarms: float, seed: int
) -> DriftOf | None:
    assert whole.expected is not None
    rows = np.flatnonzero(which)
    if not rows.size:
        return None
    vehicles, number = np.unique(whole.vehicle[rows], return_inverse=True)
    first = np.full(len(vehicles), np.iinfo(np.int64).max)
    np.minimum.at(first, number, days[rows])
    failing = np.zeros(len(whole.rows))
    failing[whole.failing] = 1.0
    observed, expected = (
        np.bincount(number, each[rows], len(vehicles)).astype(np.float64)
        for each in (failing, whole.expected)
    )
    if len(vehicles) < FEWEST_VEHICLES or expected.sum() < FEWEST_EXPECTED:
        return None
    order = np.argsort(first, kind="stable")
    limit = limit_for(expected[order], vehicle_spread(observed, expected), seed, false_alarms, STREAMS)
    drift = cusum(observed[order], expected[order], limit)
    at = first[order]
    signal = None if drift.signal is None else date.fromordinal(int(at[drift.signal]))
    return DriftOf(level, tuple(at.tolist()), tuple(drift.path.tolist()), limit, signal)
