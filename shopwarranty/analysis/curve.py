"""The share failed by an age, with an interval that counts each vehicle as one witness.

The curve takes the hazard as constant within bands of age; its interval is built on
log(-log S) from the sandwich over vehicles, which keeps it inside 0..1. Before the first failure
was found only an upper limit is said, and beyond the oldest look nothing is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from .arrays import FloatArray
from .bands import CURVE_BANDS, Bands
from .exposure import Lives, clusters_from_zero
from .hazard import Fit, fit
from .patterns import Looks, looks_of, packed_by
from .proportions import upper_limit
from .sandwich import LEAST_DF, Vehicles, errors

UNKNOWN_DESIGN_EFFECT = 1.5
"""Taken where nothing has failed and so nothing says how alike the places of a vehicle are; a judgement."""

WIDEST = 300.0
"""Half width of log H beyond which an interval is all of 0..1 in any case."""


@dataclass(frozen=True, slots=True)
class ShareFailed:
    """Share failed by `day`, 0..1, with the ends of its 95 % interval.

    `seen`: places seen clean at that age or later. `limit_only`: no failure had been found by that
    age, so only `high`, the exact one-sided 95 % upper limit, is worth printing.
    """

    day: int
    estimate: float
    low: float
    high: float
    seen: int
    limit_only: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """A fitted curve: cumulative hazard by age, its error on the log scale, and what was watched."""

    fit: Fit
    looks: Looks
    half_widths: FloatArray
    design_effect: float
    days: tuple[int, ...]


def shares_failed(
    lives: Lives,
    days: Sequence[int],
    bands: Bands = CURVE_BANDS,
    level: float = 0.95,
    design_effect: float = UNKNOWN_DESIGN_EFFECT,
) -> tuple[ShareFailed | None, ...]:
    """Share failed by each of `days` (ages in days); None where nothing was watched that long.

    `design_effect` is used for the upper limit where no failure was found at all; elsewhere it is
    estimated. `level` is the confidence level of the intervals.
    """
    kept = lives.only(lives.watched)
    longest = oldest_look(kept)
    reached = [d for d in days if 0 < d <= longest]
    if not kept.found.any():
        found = {d: _limit(kept, d, 0.0, design_effect, level) for d in reached}
    else:
        found = dict(zip(reached, _fitted(kept, reached, bands, level), strict=True))
    return tuple(found.get(d) for d in days)


def oldest_look(lives: Lives) -> int:
    """Highest age at which anything was looked at, in days; 0 when nothing was."""
    return int(max(lives.clean.max(initial=0), lives.failed.max(initial=0)))


def design_effect_of(lives: Lives, bands: Bands = CURVE_BANDS) -> float:
    """How many times wider the variance of the failure level is for places sharing vehicles.

    At least 1; UNKNOWN_DESIGN_EFFECT when nothing was found failing.
    """
    kept = lives.only(lives.watched)
    if not kept.found.any():
        return UNKNOWN_DESIGN_EFFECT
    return curve_of(kept, (oldest_look(kept),), bands).design_effect


def curve_of(lives: Lives, days: Sequence[int], bands: Bands = CURVE_BANDS, level: float = 0.95) -> Curve:
    """Fit the curve; half widths are of log H(t) at each of `days`. Raises hazard.NoFailures."""
    looks = looks_of(lives, bands)
    patterned = packed_by(looks, ())
    found = fit(patterned.packed)
    ages = np.append(np.asarray(days, dtype=np.int64), oldest_look(lives))
    by_band = bands.days_by(ages) * np.exp(found.log_hazard)
    directions = by_band / by_band.sum(axis=1, keepdims=True)
    spread = errors(looks, patterned, found, Vehicles(*clusters_from_zero(lives.cluster)), directions)
    effect = max(1.0, float(spread.by_vehicle[-1] / spread.model[-1]) ** 2)
    # Satterthwaite's degrees of freedom break down for sums of neighbouring bands, whose shares of
    # information can be negative within a failing interval; vehicles with a failure stand in.
    witnesses = len(np.unique(lives.cluster[lives.found]))
    critical = float(stdtrit(max(witnesses - 1.0, LEAST_DF), 0.5 + level / 2))
    return Curve(found, looks, critical * spread.se[:-1], effect, tuple(days))


def _fitted(lives: Lives, days: Sequence[int], bands: Bands, level: float) -> list[ShareFailed]:
    curve = curve_of(lives, days, bands, level)
    hazard = bands.days_by(np.asarray(days, dtype=np.int64)) @ np.exp(curve.fit.log_hazard)
    first_found = int(lives.failed[lives.found].min())
    shares = []
    for day, total, half in zip(days, hazard, curve.half_widths, strict=True):
        estimate = float(-np.expm1(-total))
        if day < first_found:
            shares.append(_limit(lives, day, estimate, curve.design_effect, level))
            continue
        widest = min(half, WIDEST)
        low, high = (float(-np.expm1(-total * np.exp(side))) for side in (-widest, widest))
        shares.append(ShareFailed(day, estimate, low, high, _seen(lives, day)))
    return shares


def _limit(lives: Lives, day: int, estimate: float, effect: float, level: float) -> ShareFailed:
    """A later find may have failed by this day already, so the limit counts it as if it had."""
    seen = _seen(lives, day)
    perhaps = int(((lives.entry == 0) & lives.found & (lives.last_clean < day)).sum())
    total = seen + perhaps
    high = upper_limit(perhaps / effect, total / effect, level) if total else 1.0
    return ShareFailed(day, estimate, 0.0, max(high, estimate), seen, limit_only=True)


def _seen(lives: Lives, day: int) -> int:
    """Places watched from the start and seen clean at this age or later."""
    return int(((lives.entry == 0) & (lives.clean >= day)).sum())
