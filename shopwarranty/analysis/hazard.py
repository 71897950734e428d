"""The likelihood under everything: proportional hazards, constant within bands of age.

A life watched from e, last seen clean at L and found failing at R (or never) contributes
-H(e, L) + [found] log(1 - exp(-H(L, R))), with H(s, t) = exp(x'b) * sum_k exp(a_k) * (days of
(s, t] in band k). The clean part is linear in days, so late entry, splitting a clean interval
and summing lives of equal covariates are exact. (Sun J 2006, The Statistical Analysis of
Interval-censored Failure Time Data, Springer; Prentice RL, Gloeckler LA 1978 Biometrics 34:57-67.)

Two weak penalties keep every estimate finite: log-F(1,1) on each coefficient (Greenland S,
Mansournia MA 2015 Stat Med 34:3133-3143) and a random walk on neighbouring log hazards.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_factor, cho_solve

from .arrays import FloatArray, IntArray


class NoFailures(ValueError):
    """Nothing was found failing, so no hazard can be estimated (only limited from above)."""


class NotConverged(ValueError):
    """The search for the maximum ended without one."""


@dataclass(frozen=True, slots=True, eq=False)
class Packed:
    """Lives summed by pattern (equal covariates); failures stay single.

    design          covariates of each pattern, shape (P, q)
    exposure        clean days of each pattern in each band, shape (P, K)
    failure_pattern pattern of each failure, shape (F,)
    failure_days    days of each failing interval in each band, shape (F, K)
    """

    design: FloatArray
    exposure: FloatArray
    failure_pattern: IntArray
    failure_days: FloatArray

    @property
    def bands(self) -> int:
        return int(self.exposure.shape[1])


@dataclass(frozen=True, slots=True)
class Penalty:
    """`log_f`: weight m of log-F(m, m) on coefficients; `walk_sd`: of neighbouring log hazards.

    0 and None leave the penalty out.
    """

    log_f: float = 1.0
    walk_sd: float | None = 2.0


UNPENALISED = Penalty(0.0, None)


@dataclass(frozen=True, slots=True, eq=False)
class Slope:
    """Log-likelihood at a point, its gradient (K+q,) and minus its Hessian (K+q, K+q)."""

    value: float
    gradient: FloatArray
    information: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """The maximum: log hazards a day `log_hazard` (K,), coefficients `log_ratio` (q,).

    `information` is the penalised observed information, bands first, shape (K+q, K+q).
    """

    log_hazard: FloatArray
    log_ratio: FloatArray
    information: FloatArray
    log_likelihood: float
    steps: int

    @property
    def theta(self) -> FloatArray:
        return np.concatenate([self.log_hazard, self.log_ratio])


def likelihood(packed: Packed, theta: FloatArray) -> Slope:
    """Log-likelihood without penalty at theta = (log hazards, coefficients)."""
    bands = packed.bands
    hazard, ratio = np.exp(theta[:bands]), np.exp(packed.design @ theta[bands:])
    clean = ratio[:, None] * packed.exposure * hazard
    failing = ratio[packed.failure_pattern][:, None] * packed.failure_days * hazard
    total = np.maximum(failing.sum(axis=1), 1e-300)
    with np.errstate(over="ignore"):
        pull = 1.0 / np.expm1(total)
    bend = pull * (1.0 + pull)
    value = float(np.log(-np.expm1(-total)).sum() - clean.sum())
    expected = pull[:, None] * failing
    slope = -_by_pattern(packed, -expected) - clean
    gradient = np.concatenate([slope.sum(axis=0), packed.design.T @ slope.sum(axis=1)])
    crossed = clean + _by_pattern(packed, (bend * total)[:, None] * failing - expected)
    top = np.diag(-slope.sum(axis=0)) + (failing * bend[:, None]).T @ failing
    side = crossed.T @ packed.design
    corner = packed.design.T @ (packed.design * crossed.sum(axis=1)[:, None])
    return Slope(value, gradient, np.block([[top, side], [side.T, corner]]))


def _by_pattern(packed: Packed, rows: FloatArray) -> FloatArray:
    """Sum rows of failures (F, K) within their pattern, shape (P, K)."""
    patterns = len(packed.design)
    columns = [np.bincount(packed.failure_pattern, rows[:, k], patterns) for k in range(rows.shape[1])]
    return np.column_stack(columns)


def penalty_slope(penalty: Penalty, theta: FloatArray, bands: int) -> Slope:
    """The penalty as a log density up to a constant, with gradient and minus Hessian."""
    size = len(theta)
    gradient, information = np.zeros(size), np.zeros((size, size))
    log_ratio, value = theta[bands:], 0.0
    if penalty.log_f:
        share = 1.0 / (1.0 + np.exp(-log_ratio))
        value += float(penalty.log_f * (log_ratio / 2 - np.logaddexp(0.0, log_ratio)).sum())
        gradient[bands:] = penalty.log_f * (0.5 - share)
        information[range(bands, size), range(bands, size)] = penalty.log_f * share * (1 - share)
    if penalty.walk_sd is not None and bands > 1:
        steps = np.diff(np.eye(bands), axis=0) / penalty.walk_sd
        rough = steps.T @ steps
        value -= float(theta[:bands] @ rough @ theta[:bands]) / 2
        gradient[:bands] = -rough @ theta[:bands]
        information[:bands, :bands] += rough
    return Slope(value, gradient, information)


def penalised(packed: Packed, theta: FloatArray, penalty: Penalty) -> Slope:
    """Likelihood and penalty together."""
    data, prior = likelihood(packed, theta), penalty_slope(penalty, theta, packed.bands)
    return Slope(
        data.value + prior.value, data.gradient + prior.gradient, data.information + prior.information
    )


def fit(
    packed: Packed, penalty: Penalty | None = None, start: FloatArray | None = None, steps: int = 60
) -> Fit:
    """The penalised maximum by Newton's method, each step capped at 2 and halved until it climbs.

    `start` resumes from a nearby maximum. Raises NoFailures when nothing failed and NotConverged
    when `steps` do not suffice.
    """
    rule = Penalty() if penalty is None else penalty
    if not len(packed.failure_pattern):
        raise NoFailures("nothing was found failing")
    theta = _start(packed) if start is None else start
    here = penalised(packed, theta, rule)
    for taken in range(1, steps + 1):
        step = _newton_step(here)
        if float(here.gradient @ step) < 1e-12 * (1 + abs(here.value)):
            # At the top up to rounding: one plain step polishes, and cannot be judged by its height.
            theta = theta + step
            last = penalised(packed, theta, rule)
            bands = packed.bands
            return Fit(theta[:bands], theta[bands:], last.information, last.value, taken)
        theta, here = _climb(packed, rule, theta, here, step)
    raise NotConverged(f"no maximum within {steps} steps")


def _start(packed: Packed) -> FloatArray:
    days = packed.exposure.sum() + packed.failure_days.sum() / 2
    level = np.log(len(packed.failure_pattern) / days)
    return np.concatenate([np.full(packed.bands, level), np.zeros(packed.design.shape[1])])


def _newton_step(here: Slope) -> FloatArray:
    """The Newton step, made uphill by lifting the diagonal where the surface is not yet concave."""
    lift, size = 0.0, np.eye(len(here.gradient))
    scale = float(np.abs(np.diag(here.information)).max())
    for _ in range(60):
        try:
            step: FloatArray = cho_solve(cho_factor(here.information + lift * size), here.gradient)
            return step * min(1.0, 2.0 / float(np.abs(step).max() + 1e-300))
        except np.linalg.LinAlgError:
            lift = max(lift * 4, 1e-8 * scale)
    raise NotConverged("the likelihood is not a number")


def _climb(
    packed: Packed, rule: Penalty, theta: FloatArray, here: Slope, step: FloatArray
) -> tuple[FloatArray, Slope]:
    slack = 1e-12 * (1 + abs(here.value))
    for _ in range(40):
        there = penalised(packed, theta + step, rule)
        if there.value >= here.value - slack:
            return theta + step, there
        step = step / 2
    raise NotConverged("no step climbs")
