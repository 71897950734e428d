"""Is a stream of work slipping? A cumulative sum that a doubling drives up.

W = max(0, W + O ln 2 - E), a signal once W >= h (Steiner SH and others 2000 Biostatistics
1:441-452). The limit h comes from simulating the stream's own expected failures with vehicles that
share their fate; limits for independent failures would alarm three to eight times too often. It is
a slow instrument: at one to three failures in a hundred a year a doubling is found within a year in
half to four fifths of cases, and the page must say so.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log

import numpy as np

from .arrays import FloatArray

FALSE_ALARMS = 0.10
"""Share of streams without any change that may signal within the watched time."""


@dataclass(frozen=True, slots=True, eq=False)
class Drift:
    """The sum after each step, shape (t,), its limit, and the first step at or over it (None: none)."""

    path: FloatArray
    limit: float
    signal: int | None


def cusum(observed: FloatArray, expected: FloatArray, limit: float, times: float = 2.0) -> Drift:
    """The sum over steps in time; `observed` and `expected` failures of each step, shape (t,)."""
    path = _paths(np.asarray(observed, dtype=float)[None, :], np.asarray(expected, dtype=float), times)[0]
    over = np.flatnonzero(path >= limit)
    return Drift(path, limit, int(over[0]) if over.size else None)


def limit_for(
    expected: FloatArray,
    vehicle_spread: float,
    seed: int,
    false_alarms: float = FALSE_ALARMS,
    streams: int = 2000,
    times: float = 2.0,
) -> float:
    """The limit that unchanged streams reach with chance `false_alarms` over these steps.

    expected        expected failures of each step, one step a vehicle looked at, shape (t,)
    vehicle_spread  variance of a vehicle's own ratio (see lots.vehicle_spread)
    """
    rng = np.random.default_rng(seed)
    shape = (streams, len(expected))
    ratio = rng.gamma(1 / vehicle_spread, vehicle_spread, shape) if vehicle_spread > 0 else np.ones(shape)
    highest = _paths(rng.poisson(ratio * expected).astype(float), expected, times).max(axis=1)
    return float(np.quantile(highest, 1 - false_alarms, method="higher"))


def _paths(observed: FloatArray, expected: FloatArray, times: float) -> FloatArray:
    """max(0, W + step) written with running sums: S minus its lowest value so far; shape (s, t)."""
    sums = np.cumsum(observed * log(times) - (times - 1) * expected, axis=1)
    lowest = np.minimum(np.minimum.accumulate(sums, axis=1), 0.0)
    return np.asarray(sums - lowest)
