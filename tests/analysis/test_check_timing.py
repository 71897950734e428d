"""When to look: closed forms, a count of single simulated lifts, and the interval's coverage."""

import numpy as np
import pytest

from shopwarranty.analysis.bands import Bands
from shopwarranty.analysis.check_timing import (
    CheckPlan,
    Costs,
    chance_within,
    cost_of,
    daily_failures,
    share_early,
    share_found,
    timings,
)
from shopwarranty.analysis.exposure import NEVER, Lives, lives_of
from tests.analysis.worlds import constant_world, seen_at_checks

ONE_BAND = Bands(())
RATE = 0.002
YEAR = daily_failures(np.array([RATE]), ONE_BAND, 365)


def failed_by(day: float) -> float:
    """Exponential distribution function; the closed form for one band."""
    return float(-np.expm1(-RATE * day))


def test_failures_of_single_days_sum_to_the_share_failed() -> None:
    assert YEAR.sum() == pytest.approx(failed_by(365), rel=1e-12)
    assert YEAR[:14].sum() == pytest.approx(failed_by(14), rel=1e-12)


def test_one_check_everybody_comes_to_catches_what_began_in_the_days_before_it() -> None:
    """F(t) - F(t - g) over F(365), by the exponential's own formula."""
    plan = CheckPlan((90,), (1.0,))
    assert share_early(YEAR, plan, 30) == pytest.approx(
        (failed_by(90) - failed_by(60)) / failed_by(365), rel=1e-12
    )
    assert share_found(YEAR, plan) == pytest.approx(failed_by(90) / failed_by(365), rel=1e-12)


def test_attendance_scales_a_single_check_and_adds_up_over_distant_ones() -> None:
    first, second = CheckPlan((90,), (0.5,)), CheckPlan((200,), (0.25,))
    both = CheckPlan((90, 200), (0.5, 0.25))
    assert share_early(YEAR, first, 30) == pytest.approx(
        0.5 * share_early(YEAR, CheckPlan((90,), (1.0,)), 30)
    )
    assert share_early(YEAR, both, 30) == pytest.approx(
        share_early(YEAR, first, 30) + share_early(YEAR, second, 30)
    )


def test_of_two_checks_that_both_reach_a_lift_one_is_enough() -> None:
    """Day 10 is reached by the checks on days 12 and 20: 1 - 0.4 * 0.7; day 15 by the second alone."""
    chance = chance_within(CheckPlan((12, 20), (0.6, 0.3)), 30, 15)
    assert chance[10 - 1] == pytest.approx(1 - 0.4 * 0.7)
    assert chance[15 - 1] == pytest.approx(0.3)
    assert chance[12 - 1] == pytest.approx(1 - 0.4 * 0.7), "a lift of the day itself is seen"
    assert chance[21 - 1] == 0


def test_a_plan_does_what_single_simulated_lifts_meet() -> None:
    """200,000 lifts, each followed from check to check by coin tosses; nothing of the code under test."""
    rng = np.random.default_rng(8)
    days, shares, grows = (14, 90, 365), (0.75, 0.55, 0.5), 60
    begins = np.ceil(rng.weibull(0.6, 200_000) * 400)
    begins = begins[begins <= 365]
    caught = np.full(len(begins), np.inf)
    for day, share in reversed(list(zip(days, shares, strict=True))):
        seen = (rng.random(len(begins)) < share) & (day >= begins)
        caught = np.where(seen, day - begins, caught)
    failing = np.bincount(begins.astype(int), minlength=366)[1:366] / 200_000
    plan = CheckPlan(days, shares)
    assert share_early(failing, plan, grows) == pytest.approx((caught < grows).mean(), abs=0.004)
    assert share_found(failing, plan) == pytest.approx(np.isfinite(caught).mean(), abs=0.004)


def test_early_failures_are_caught_by_an_early_check_and_missed_by_a_late_one() -> None:
    lives = early_world(seed=4)
    now = CheckPlan((14, 90, 365), (0.75, 0.55, 0.5))
    present, later, extra = timings(lives, [now, now.moved(0, 45), now.with_check(30, 0.6)], grows_after=14)
    assert present.until == 365
    assert present.early > later.early
    assert extra.early > present.early
    assert present.low < present.early < present.high <= 1
    assert present.failed == later.failed


def test_cost_is_lifts_early_and_late_and_the_minutes_of_checks() -> None:
    """Worked by hand: 40 places, 0.5 of 100 % failing caught early, one check attended by half."""
    failing = np.array([0.0, 0.2])
    plan = CheckPlan((2, 900), (0.5, 1.0))
    costs = Costs(caught_early=20, caught_late=120, minute=1.5, minutes=30, places=40)
    lifts = 40 * 0.2
    assert cost_of(failing, plan, 10, costs) == pytest.approx(lifts * (0.5 * 20 + 0.5 * 120) + 0.5 * 30 * 1.5)


def test_without_failures_or_looks_nothing_is_said() -> None:
    clean = lives_of([0, 0], [90, 90], [NEVER, NEVER], [0, 1])
    plan = CheckPlan((14,), (1.0,))
    assert timings(clean, [plan], grows_after=14) == ()
    assert timings(clean.only(np.array([], dtype=int)), [plan], grows_after=14) == ()


def test_nothing_is_said_beyond_the_oldest_look() -> None:
    lives = lives_of([0, 0], [14, NEVER], [NEVER, 90], [0, 1])
    found = timings(lives, [CheckPlan((14, 365), (1.0, 1.0))], grows_after=14)
    assert found[0].until == 90


def test_the_interval_holds_what_is_true_in_about_95_of_100() -> None:
    """Constant hazard, so the true share is the closed form: (F(14) + F(90) - F(76)) / F(365)."""
    rate = 2e-4
    f = [float(-np.expm1(-rate * day)) for day in (14, 76, 90, 365)]
    true = (f[0] + f[2] - f[1]) / f[3]
    plan = CheckPlan((14, 90), (1.0, 1.0))
    held = []
    for seed in range(60):
        found = timings(constant_world(seed, vehicles=120), [plan], grows_after=14)[0]
        held.append(found.low <= true <= found.high)
    assert np.mean(held) >= 0.87


@pytest.mark.parametrize(("days", "shares"), [((14,), ()), ((0,), (0.5,)), ((14,), (1.2,)), ((-3,), (0.5,))])
def test_a_plan_that_cannot_be_is_refused(days: tuple[int, ...], shares: tuple[float, ...]) -> None:
    with pytest.raises(ValueError, match="check"):
        CheckPlan(days, shares)


def test_a_lift_that_grows_at_once_cannot_be_asked_about() -> None:
    with pytest.raises(ValueError, match="for a day"):
        timings(early_world(1), [CheckPlan((14,), (1.0,))], grows_after=0)


def early_world(seed: int) -> Lives:
    rng = np.random.default_rng(seed)
    cluster = np.repeat(np.arange(200), 12)
    return seen_at_checks(rng.weibull(0.4, len(cluster)) * 40_000, cluster, rng)
