"""Is a lot bad? Its failures against those expected of its own ages and mix.

After every planned check the lot's observed failures are held against a negative binomial whose
variance says how alike the places of a vehicle are; the tail is counted by mid-p. Beside every lot
stands the chance that a lot three times as bad would have been noticed by now, so that silence is
not read as good.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import betainc, gammaln, pdtr

from .arrays import FloatArray, IntArray

ALERT_AT = 0.003
ALERT_AT_MANY = 0.001
MANY_LOTS = 12
FEWEST_FAILURES = 3
FEWEST_COMPANY = 10
"""Failures of other lots below which nothing can be expected of this one; a judgement."""
ENOUGH_VEHICLES = 100
USUAL_SPREAD = 0.45
"""phi_v until a shop has 100 vehicles of its own to estimate it from."""


@dataclass(frozen=True, slots=True)
class LotFigure:
    """One lot now.

    observed, expected   failures found, and expected were it no better or worse than the others
    vehicles             of the lot, checked
    p, alert             chance of so many or more in an idle lot, and whether the line is crossed
    would_notice_threefold   chance that a lot three times as bad had been called by now
    judged               False while there is too little to hold it against: p is 1, nothing is noticed
    """

    observed: int
    expected: float
    vehicles: int
    p: float
    alert: bool
    would_notice_threefold: float
    judged: bool = True


def vehicle_spread(observed: FloatArray, expected: FloatArray) -> float:
    """phi_v over vehicles: max(0, sum((O - e)^2 - e) / sum e^2); 0.45 below 100 vehicles; shape (G,)."""
    if len(observed) < ENOUGH_VEHICLES or not expected.sum() > 0:
        return USUAL_SPREAD
    return float(max(0.0, ((observed - expected) ** 2 - expected).sum() / (expected**2).sum()))


def alert_line(open_lots: int) -> float:
    """The p below which a lot is called: stricter once more than 12 lots are open in two years."""
    return ALERT_AT_MANY if open_lots > MANY_LOTS else ALERT_AT


def lot_figure(
    observed: int, expected: float, vehicles: int, spread: float, line: float = ALERT_AT
) -> LotFigure:
    """One lot now; `vehicles` of it checked, `spread` is phi_v. Nothing expected yet says nothing."""
    if not expected > 0 or not vehicles:
        return unjudged(observed, expected, vehicles)
    p = mid_p(observed, expected, spread / vehicles)
    alert = p < line and observed >= FEWEST_FAILURES
    return LotFigure(observed, expected, vehicles, p, alert, power(expected, spread / vehicles, line))


def unjudged(observed: int, expected: float, vehicles: int) -> LotFigure:
    return LotFigure(observed, expected, vehicles, 1.0, False, 0.0, judged=False)


def mid_p(observed: int, mean: float, dispersion: float) -> float:
    """P(X > observed) + P(X = observed) / 2 for mean and variance mean + dispersion * mean^2."""
    beyond = 1.0 - _cumulative(observed, mean, dispersion)
    return beyond + _probability(observed, mean, dispersion) / 2


def power(expected: float, dispersion: float, line: float, times: float = 3.0) -> float:
    """Chance that a lot `times` as bad has crossed the line by now."""
    crossing = first_alerting(expected, dispersion, line)
    return 1.0 - _cumulative(crossing - 1, times * expected, dispersion)


def first_alerting(expected: float, dispersion: float, line: float) -> int:
    """Fewest failures that call the lot."""
    count = max(FEWEST_FAILURES, int(expected))
    while mid_p(count, expected, dispersion) >= line:
        count += 1
    return count


def _cumulative(count: int, mean: float, dispersion: float) -> float:
    if count < 0:
        return 0.0
    if dispersion < 1e-9:
        return float(pdtr(count, mean))
    size = 1.0 / dispersion
    return float(betainc(size, count + 1, size / (size + mean)))


def _probability(count: int, mean: float, dispersion: float) -> float:
    if dispersion < 1e-9:
        return float(np.exp(count * np.log(mean) - mean - gammaln(count + 1)))
    size = 1.0 / dispersion
    chance = gammaln(count + size) - gammaln(size) - gammaln(count + 1)
    return float(np.exp(chance + size * np.log(size / (size + mean)) + count * np.log(mean / (size + mean))))


def lots(
    codes: IntArray,
    size: int,
    vehicle: IntArray,
    found: FloatArray,
    expected: FloatArray,
    open_lots: int | None = None,
) -> tuple[LotFigure, ...]:
    """Figures for `size` lots from lives that were looked at.

    codes     lot of each life, shape (n,); -1 for unknown lots, which serve only as company
    vehicle   0..G-1; found: 1 where it failed; expected: under the whole, standardised; all (n,)
    open_lots lots open in two years, when that is not all `size` of them

    A lot is held against the others: its own failures are taken out of what is expected of it, since
    one bad lot among ten would otherwise raise its own measure by a fifth. It is not judged before
    the others have ten failures.
    """
    known = codes >= 0
    observed = np.bincount(codes[known], found[known], size)
    own = np.bincount(codes[known], expected[known], size)
    others = found.sum() - observed
    chances = own * others / np.maximum(expected.sum() - own, 1e-300)
    spread = _spread(codes, vehicle, found, expected, (observed + 1) / (own + 1))
    cells = np.unique(vehicle[known] * np.int64(size) + codes[known])
    checked = np.bincount(cells % size, minlength=size)
    line = alert_line(size if open_lots is None else open_lots)
    return tuple(
        lot_figure(int(o), float(e), int(n), spread, line)
        if rest >= FEWEST_COMPANY
        else unjudged(int(o), float(e), int(n))
        for o, e, n, rest in zip(observed, chances, checked, others, strict=True)
    )


def _spread(
    codes: IntArray, vehicle: IntArray, found: FloatArray, expected: FloatArray, ratio: FloatArray
) -> float:
    """phi_v about each lot's own level: a bad lot must not pass for vehicles that differ much."""
    level = np.append(ratio, 1.0)[codes]
    observed, chances = (np.bincount(vehicle, w).astype(np.float64) for w in (found, expected * level))
    return vehicle_spread(observed, chances)
