"""How sure: errors that count each vehicle as one witness.

Places of one vehicle share its cold bay, its day and its owner, so their scores are summed
within the vehicle. Below 1,000 vehicles each vehicle is left out in turn (CR3, one Newton step),
from there on the plain sandwich with G / (G - 1) says the same (CR1). The degrees of freedom are
Satterthwaite's, from each vehicle's share of the information. Where few failures make a sandwich
collapse, the error of the model is the larger one and stands.

Bell RM, McCaffrey DF (2002) Survey Methodology 28:169-181; Pustejovsky JE, Tipton E (2018) J Bus
Econ Stat 36:672-683; MacKinnon JG, Nielsen MO, Webb MD (2023) J Appl Econometrics 38:671-694.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from .arrays import FloatArray, IntArray
from .hazard import Fit
from .patterns import Looks, Patterned

LEAVE_OUT_BELOW = 1000
LEAST_DF = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class Vehicles:
    """The vehicle of each life as 0..count-1, shape (n,)."""

    number: IntArray
    count: int


@dataclass(frozen=True, slots=True, eq=False)
class Errors:
    """Standard errors of d directions: of the model, by vehicle, and degrees of freedom; each (d,).

    `influence`: what each vehicle adds to each direction, scaled so that influence'influence is the
    covariance by vehicle, shape (G, d).
    """

    model: FloatArray
    influence: FloatArray
    df: FloatArray

    @property
    def by_vehicle(self) -> FloatArray:
        return np.asarray(np.sqrt((self.influence**2).sum(axis=0)))

    @property
    def se(self) -> FloatArray:
        return np.maximum(self.model, self.by_vehicle)

    def half_width(self, level: float = 0.95) -> FloatArray:
        """Half of the interval at this confidence level, from Student's t; shape (d,)."""
        half: FloatArray = stdtrit(self.df, 0.5 + level / 2) * self.se
        return half


@dataclass(frozen=True, slots=True, eq=False)
class Parts:
    """What each life adds in a fit: clean (n,), and for failures band parts (F, K) and slopes (F,)."""

    ratio: FloatArray
    failing: FloatArray
    pull: FloatArray
    bend: FloatArray


def parts_of(looks: Looks, patterned: Patterned, fit: Fit) -> Parts:
    ratio = np.exp(patterned.packed.design @ fit.log_ratio)
    hazard = np.exp(fit.log_hazard)
    failing = ratio[patterned.packed.failure_pattern][:, None] * patterned.packed.failure_days * hazard
    total = np.maximum(failing.sum(axis=1), 1e-300)
    with np.errstate(over="ignore"):
        pull = 1.0 / np.expm1(total)
    return Parts(ratio, failing, pull, pull * (1.0 + pull))


def errors(
    looks: Looks, patterned: Patterned, fit: Fit, vehicles: Vehicles, directions: FloatArray
) -> Errors:
    """Errors of directions'theta; `directions` has shape (d, K+q)."""
    inverse = np.linalg.inv(fit.information)
    leaned = directions @ inverse
    model = np.sqrt(np.maximum((leaned * directions).sum(axis=1), 0.0))
    parts = parts_of(looks, patterned, fit)
    score, weight = _along(looks, patterned, fit, parts, vehicles, leaned)
    spread = weight.sum(axis=1) ** 2 / np.maximum((weight**2).sum(axis=1), 1e-300)
    df = np.maximum(spread, LEAST_DF)
    groups = vehicles.count
    if groups < 2:
        influence = np.zeros((groups, len(directions)))
    elif groups < LEAVE_OUT_BELOW:
        influence = _left_out(looks, patterned, fit, parts, vehicles) @ directions.T
        influence = influence * np.sqrt((groups - 1) / groups)
    else:
        influence = score.T * np.sqrt(groups / (groups - 1))
    return Errors(model, influence, df)


def _along(
    looks: Looks, patterned: Patterned, fit: Fit, parts: Parts, vehicles: Vehicles, leaned: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Score and information of each vehicle along each leaned direction, both (d, G)."""
    scores, weights = [], []
    for direction in leaned:
        score, weight = _clean_along(looks, patterned, fit, parts, direction)
        _add_failures_along(looks, patterned, parts, direction, score, weight)
        scores.append(np.bincount(vehicles.number, score, vehicles.count))
        weights.append(np.bincount(vehicles.number, weight, vehicles.count))
    return np.array(scores), np.array(weights)


def _clean_along(
    looks: Looks, patterned: Patterned, fit: Fit, parts: Parts, direction: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Clean part of score and information of each life; gathered from tables by day, exact."""
    bands = len(fit.log_hazard)
    lean, hazard = direction[:bands], np.exp(fit.log_hazard)
    by_day = [looks.table @ (hazard * lean**power) for power in range(3)]
    late = bool(looks.lives.entry.any())
    days = [t[looks.last_clean] - (t[looks.lives.entry] if late else 0.0) for t in by_day]
    tilt = patterned.packed.design @ direction[bands:]
    slope, ratio = tilt[patterned.pattern], parts.ratio[patterned.pattern]
    score = -ratio * (days[1] + slope * days[0])
    weight = ratio * (days[2] + slope * (2.0 * days[1] + slope * days[0]))
    return score, weight


def _add_failures_along(
    looks: Looks,
    patterned: Patterned,
    parts: Parts,
    direction: FloatArray,
    score: FloatArray,
    weight: FloatArray,
) -> None:
    bands = parts.failing.shape[1]
    tilt = (patterned.packed.design @ direction[bands:])[patterned.packed.failure_pattern]
    reach = direction[:bands] + tilt[:, None]
    first = (parts.failing * reach).sum(axis=1)
    second = (parts.failing * reach**2).sum(axis=1)
    score[looks.failures] += parts.pull * first
    weight[looks.failures] += parts.bend * first**2 - parts.pull * second


def _left_out(looks: Looks, patterned: Patterned, fit: Fit, parts: Parts, vehicles: Vehicles) -> FloatArray:
    """Shift of theta when each vehicle is left out, one Newton step, shape (G, K+q)."""
    score, information = _by_vehicle(looks, patterned, fit, parts, vehicles)
    remaining = fit.information - information
    try:
        shift = np.linalg.solve(remaining, score[:, :, None])
    except np.linalg.LinAlgError:
        # One vehicle holds all that is known of some coefficient: without it nothing is, and the
        # shift becomes very large instead of undefined.
        shift = np.linalg.solve(remaining + 1e-6 * np.diag(np.diag(fit.information)), score[:, :, None])
    return np.asarray(shift[:, :, 0], dtype=np.float64)


def _by_vehicle(
    looks: Looks, patterned: Patterned, fit: Fit, parts: Parts, vehicles: Vehicles
) -> tuple[FloatArray, FloatArray]:
    """Score (G, K+q) and observed information (G, K+q, K+q) of each vehicle, penalty left out."""
    hazard, ratio = np.exp(fit.log_hazard), parts.ratio[patterned.pattern]
    slope = -(looks.clean_days * hazard[:, None] * ratio).T
    crossed = -slope
    total = parts.failing.sum(axis=1)
    expected = parts.pull[:, None] * parts.failing
    slope[looks.failures] += expected
    crossed[looks.failures] += (parts.bend * total)[:, None] * parts.failing - expected
    rows = _padded_rows(vehicles)
    slopes, crosses = _padded(slope, rows), _padded(crossed, rows)
    design = _padded(patterned.packed.design[patterned.pattern], rows)
    along = (slopes.sum(axis=2)[:, None, :] @ design)[:, 0, :]
    score = np.concatenate([slopes.sum(axis=1), along], axis=1)
    top = _diagonals(-slopes.sum(axis=1))
    bent = np.sqrt(parts.bend)[:, None] * parts.failing
    np.add.at(top, vehicles.number[looks.failures], bent[:, :, None] * bent[:, None, :])
    side = crosses.transpose(0, 2, 1) @ design
    corner = design.transpose(0, 2, 1) @ (design * crosses.sum(axis=2)[:, :, None])
    upper = np.concatenate([top, side], axis=2)
    lower = np.concatenate([side.transpose(0, 2, 1), corner], axis=2)
    return score, np.concatenate([upper, lower], axis=1)


def _diagonals(rows: FloatArray) -> FloatArray:
    diagonals: FloatArray = rows[:, :, None] * np.eye(rows.shape[1])
    return diagonals


def _padded_rows(vehicles: Vehicles) -> IntArray:
    """Positions of each vehicle's lives, shape (G, most), padded with n."""
    lives = len(vehicles.number)
    sizes = np.bincount(vehicles.number, minlength=vehicles.count)
    order = np.argsort(vehicles.number, kind="stable")
    starts = np.cumsum(sizes) - sizes
    rows = np.full((vehicles.count, int(sizes.max(initial=0))), lives, dtype=np.int64)
    ordered = vehicles.number[order]
    rows[ordered, np.arange(lives) - starts[ordered]] = order
    return rows


def _padded(values: FloatArray, rows: IntArray) -> FloatArray:
    return np.vstack([values, np.zeros((1, values.shape[1]))])[rows]
