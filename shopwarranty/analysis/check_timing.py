"""When to look: the share of first-year failures that a plan of checks catches before they grow.

A place that starts to fail at age T is caught by the first check at or after T that the vehicle comes to.
Caught within `grows_after` days it is put right small, later it has grown. With the share failed by age,
F, and the chance that each planned check takes place, the share caught early is

    sum over days d of (F(d) - F(d-1)) * (1 - product over checks t with d <= t < d + grows_after of
    (1 - chance of t)) / F(until)

Days are whole, so the sum is exact. The arithmetic is that of inspection at fixed ages with a delay
between a defect that can be seen and the loss it leads to (Christer AH, Waller WM 1984 J Oper Res Soc
35:401-406); how long a lift stays small is the shop's own judgement, which no record of checks shows.

F holds at the ages of checks; between two of them nothing but the hazard being constant within a band of
age says where failures began. So a day between two checks is a projection, and is to be called one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import expit, logit, stdtrit

from .arrays import FloatArray
from .bands import CURVE_BANDS, Bands
from .curve import oldest_look
from .exposure import Lives, clusters_from_zero
from .hazard import fit
from .patterns import looks_of, packed_by
from .sandwich import LEAST_DF, Vehicles, errors

A_YEAR = 365
_STEP = 1e-4


@dataclass(frozen=True, slots=True)
class CheckPlan:
    """Ages of planned checks in days, and the share of vehicles that come to each, 0..1.

    Raises ValueError for days not above 0, shares outside 0..1, or unequal lengths.
    """

    days: tuple[int, ...]
    attended: tuple[float, ...]

    def __post_init__(self) -> None:
        if len(self.days) != len(self.attended):
            raise ValueError("every check has its share of vehicles that come")
        if any(day <= 0 for day in self.days) or any(not 0 <= share <= 1 for share in self.attended):
            raise ValueError("checks lie after the start, and shares between 0 and 1")

    def moved(self, which: int, day: int) -> CheckPlan:
        """The same plan with check number `which` on another day, and as many coming as now."""
        return replace(self, days=tuple(day if k == which else d for k, d in enumerate(self.days)))

    def with_check(self, day: int, attended: float) -> CheckPlan:
        return CheckPlan((*self.days, day), (*self.attended, attended))


@dataclass(frozen=True, slots=True)
class Costs:
    """The shop's own, in its currency: a lift put right small, one that has grown, a minute of work.

    `minutes` a check takes; `places` watched on a vehicle.
    """

    caught_early: float
    caught_late: float
    minute: float
    minutes: float
    places: float


@dataclass(frozen=True, slots=True)
class Timing:
    """What a plan of checks does until `until` (days of age).

    failed        share of places that fail by then, 0..1
    early         share of those caught within the days they stay small, 0..1; low, high: 95 % interval
                  of it, for what the curve leaves open (attendance and growth are taken as given)
    found         share of those seen at any check by then, early or not
    cost          expected cost of lifts and checks by then, a vehicle; None without costs
    """

    plan: CheckPlan
    until: int
    failed: float
    early: float
    low: float
    high: float
    found: float
    cost: float | None


def daily_failures(hazard: FloatArray, bands: Bands, until: int) -> FloatArray:
    """Share of places that fail on each day 1..until of age, shape (until,); hazard a day by band, (K,)."""
    by_day = bands.table(until) @ np.asarray(hazard, dtype=np.float64)
    failing: FloatArray = np.diff(-np.expm1(-by_day))
    return failing


def chance_within(plan: CheckPlan, until: int, days: int) -> FloatArray:
    """Chance that a check takes place less than `days` after each day 1..until, that day's own
    included; shape (until,)."""
    missed = np.ones(until)
    start = np.arange(1, until + 1)
    for day, share in zip(plan.days, plan.attended, strict=True):
        missed = np.where((start <= day) & (day < start + days), missed * (1.0 - share), missed)
    return np.asarray(1.0 - missed)


def share_early(failing: FloatArray, plan: CheckPlan, grows_after: int) -> float:
    """Share of these failures caught while small, 0..1; 0 when nothing fails."""
    total = float(failing.sum())
    return float(failing @ chance_within(plan, len(failing), grows_after)) / total if total else 0.0


def share_found(failing: FloatArray, plan: CheckPlan) -> float:
    """Share of these failures seen at a check by the last day of `failing`, 0..1."""
    size = len(failing)
    by_then = [(d, a) for d, a in zip(plan.days, plan.attended, strict=True) if d <= size]
    within = CheckPlan(tuple(d for d, _ in by_then), tuple(a for _, a in by_then))
    return share_early(failing, within, size + 1)


def cost_of(failing: FloatArray, plan: CheckPlan, grows_after: int, costs: Costs) -> float:
    """Expected cost a vehicle until the last day of `failing`, in the currency of `costs`."""
    early = share_early(failing, plan, grows_after)
    lifts = costs.places * float(failing.sum())
    each = early * costs.caught_early + (1.0 - early) * costs.caught_late
    checks = sum(a for d, a in zip(plan.days, plan.attended, strict=True) if d <= len(failing))
    return lifts * each + checks * costs.minutes * costs.minute


def timings(
    lives: Lives,
    plans: Sequence[CheckPlan],
    *,
    grows_after: int,
    costs: Costs | None = None,
    until: int = A_YEAR,
    bands: Bands = CURVE_BANDS,
) -> tuple[Timing, ...]:
    """One Timing a plan from the lives as planned checks saw them; empty when nothing was found failing.

    grows_after   days for which a lift stays small, at least 1 (the shop's judgement)
    until         age in days; never beyond the oldest look

    Raises ValueError for `grows_after` below 1.
    """
    if grows_after < 1:
        raise ValueError("a lift stays small for a day at least")
    kept = lives.only(lives.watched)
    until = min(until, oldest_look(kept))
    if not plans or until < 1 or not kept.found.any():
        return ()
    looks = looks_of(kept, bands)
    patterned = packed_by(looks, ())
    found = fit(patterned.packed)
    directions = np.array([_slopes(found.log_hazard, bands, until, plan, grows_after) for plan in plans])
    vehicles = Vehicles(*clusters_from_zero(kept.cluster))
    spread = errors(looks, patterned, found, vehicles, directions)
    witnesses = len(np.unique(kept.cluster[kept.found]))
    half = float(stdtrit(max(witnesses - 1.0, LEAST_DF), 0.975)) * spread.se
    failing = daily_failures(np.exp(found.log_hazard), bands, until)
    return tuple(
        _timing(failing, plan, grows_after, costs, float(h)) for plan, h in zip(plans, half, strict=True)
    )


def _timing(
    failing: FloatArray, plan: CheckPlan, grows_after: int, costs: Costs | None, half: float
) -> Timing:
    early = share_early(failing, plan, grows_after)
    most = float(chance_within(plan, len(failing), grows_after).max(initial=0.0))
    middle = float(logit(early)) if 0 < early < 1 else None
    low, high = (early, early) if middle is None else (expit(middle - half), expit(middle + half))
    return Timing(
        plan=plan,
        until=len(failing),
        failed=float(failing.sum()),
        early=early,
        low=float(low),
        high=float(max(min(high, most), early)),
        found=share_found(failing, plan),
        cost=None if costs is None else cost_of(failing, plan, grows_after, costs),
    )


def _slopes(
    log_hazard: FloatArray, bands: Bands, until: int, plan: CheckPlan, grows_after: int
) -> FloatArray:
    """Slope of logit(share caught early) in each log hazard, by central differences; shape (K,)."""

    def height(at: FloatArray) -> float:
        share = share_early(daily_failures(np.exp(at), bands, until), plan, grows_after)
        return float(logit(share)) if 0 < share < 1 else 0.0

    steps = np.eye(len(log_hazard)) * _STEP
    return np.array([(height(log_hazard + s) - height(log_hazard - s)) / (2 * _STEP) for s in steps])
