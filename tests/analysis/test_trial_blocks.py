"""Whole jobs compared: the draw in blocks, its exact chances, and what peeking cannot do."""

from itertools import product
from math import inf, log

import numpy as np
import pytest

from shopwarranty.analysis.proportions import clopper_pearson
from shopwarranty.analysis.trial_blocks import BLOCK, ORDERS, PER_FAILURE, Unit, jobs_answer, once_of
from shopwarranty.analysis.trial_blocks import _boundary as boundary
from shopwarranty.analysis.trial_blocks import _steps as steps_of
from shopwarranty.analysis.trial_draw import job_gets_other
from shopwarranty.analysis.trial_sequence import Plan, Said

PLAN = Plan(most=20)


def units(arms: list[bool], failing: set[int], *, closed: bool = True) -> list[Unit]:
    """Seen clean on day 14; on day 90 those numbers have failed, the others are clean."""
    return [
        Unit(n, other, 14.0 if n in failing else 90.0, 90.0 if n in failing else inf, n if closed else None)
        for n, other in enumerate(arms, start=1)
    ]


def drawn(jobs: int, seed: int = 3) -> list[bool]:
    return [job_gets_other(seed, number) for number in range(1, jobs + 1)]


def test_every_block_has_two_of_each_arm_and_all_six_orders_are_as_likely() -> None:
    seen = []
    for block in range(3000):
        arms = [job_gets_other(11, BLOCK * block + place + 1) for place in range(BLOCK)]
        assert sum(arms) == 2
        seen.append(tuple(place for place in range(BLOCK) if arms[place]))
    counts = np.array([seen.count(order) for order in ORDERS])
    assert ((counts - 500) ** 2 / 500).sum() < 20.5  # chi-square, 5 degrees of freedom, p 0.001


def test_a_failing_job_of_a_block_brings_a_quarter_of_information() -> None:
    """One failure among four: the two-by-two table's hypergeometric variance is 1/4 (log-rank)."""
    steps = steps_of(units([True, True, False, False] * 16, {61}))
    assert steps[-1].information == pytest.approx(PER_FAILURE, abs=0.02)
    (step,) = steps_of(units([True, True, False, False], {1}))
    assert step.seen == -steps_of(units([False, False, True, True], {1}))[0].seen


def test_the_boundary_is_crossed_no_more_often_than_allowed_by_counting_every_order() -> None:
    steps = steps_of(units([True, True, False, False] * 4, {1, 2, 5, 9, 11, 13}))
    information = np.cumsum([step.information for step in steps])
    ends = boundary(steps, information / information[-1], 0.1)
    crossed = total = 0
    for path in product(*(step.might for step in steps)):
        total += 1
        crossed += bool((np.cumsum(path) >= ends).any())
    assert total == 6**4
    assert 0 < crossed / total <= 0.1


def test_jobs_of_a_block_that_is_not_closed_or_not_whole_count_nothing() -> None:
    arms = drawn(8)
    whole = units(arms, {1, 2})
    assert jobs_answer(whole[:7], PLAN).settled == 4
    assert jobs_answer([*whole[:4], *units(arms, {1, 2}, closed=False)[4:]], PLAN).settled == 4


def test_when_only_the_other_way_fails_it_is_said_and_the_ratio_points_there() -> None:
    arms = drawn(80)
    answer = jobs_answer(units(arms, {n for n, other in enumerate(arms, 1) if other and n % 2}), PLAN)
    assert answer.standing.said is Said.MORE
    assert answer.standing.counts.usual == 0
    assert answer.standing.ratio is not None and answer.standing.ratio > 2
    assert answer.standing.interval.low > 1
    mirrored = [
        Unit(unit.number, not unit.other, unit.last_clean, unit.found, unit.at)
        for unit in units(arms, {n for n, other in enumerate(arms, 1) if other and n % 2})
    ]
    assert jobs_answer(mirrored, PLAN).standing.said is Said.FEWER


def test_a_job_nobody_saw_again_changes_no_score_but_closes_its_block() -> None:
    arms = drawn(4)
    seen = units(arms, {1})
    unseen = [*seen[:3], Unit(4, arms[3], 0.0, inf, 456)]
    assert jobs_answer(unseen, PLAN).settled == 4
    assert jobs_answer([], PLAN).standing.said is Said.RUNNING


def simulated(seed: int, ratio: float, jobs: int = 240) -> list[Unit]:
    """Jobs share nothing; checks at 14, 90 and 180 days come in 80 %, frailty is gamma."""
    rng = np.random.default_rng(seed)
    made = []
    for number in range(1, jobs + 1):
        other = job_gets_other(seed, number)
        hazard = 0.35 * rng.gamma(2.0) / 2 * (ratio if other else 1.0)
        failed_on = (rng.exponential() / hazard) ** (1 / 0.6) * 180
        days = [day for day in (14, 90, 180) if rng.random() < 0.8]
        found = next((day for day in days if failed_on <= day), None)
        clean = max((day for day in days if failed_on > day), default=0)
        at = number * 3 + (found if found else 180 if clean == 180 else 225)
        made.append(Unit(number, other, float(clean), float(found) if found else inf, at))
    return made


def test_arms_that_are_alike_are_rarely_told_apart_though_every_block_is_looked_at() -> None:
    """Answers stand once reached, so that the last look tells what any earlier one would have."""
    said = [jobs_answer(simulated(seed, 1.0), Plan(80)).standing.said for seed in range(100)]
    wrong = said.count(Said.MORE) + said.count(Said.FEWER)
    assert clopper_pearson(wrong, 100, 0.99).low <= 0.05


def test_a_doubling_is_found_and_its_interval_holds_the_truth() -> None:
    answers = [jobs_answer(simulated(seed, 2.0, 400), Plan(80)).standing for seed in range(30)]
    assert clopper_pearson(sum(a.said is Said.MORE for a in answers), 30, 0.99).high >= 0.8
    held = sum(a.interval.low <= 2.0 <= a.interval.high for a in answers)
    assert clopper_pearson(held, 30, 0.99).high >= 0.95


def test_looked_at_only_once_each_shop_is_a_stratum_of_its_own() -> None:
    arms = drawn(80)
    one = units(arms, {n for n, other in enumerate(arms, 1) if other and n % 2})
    alone, twice = once_of([one]), once_of([one, one])
    assert twice.z == pytest.approx(alone.z * 2**0.5)
    assert alone.p < 0.001
    assert alone.ratio() == pytest.approx(np.exp(alone.score / alone.variance))
    assert log(twice.ratio() or 1) == pytest.approx(log(alone.ratio() or 1))
