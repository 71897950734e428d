"""Looking at a running trial as often as one likes."""

from itertools import product

import numpy as np
import pytest
from scipy.special import betaln, ndtr, ndtri, xlogy

from shopwarranty.analysis.paired_test import Discordant
from shopwarranty.analysis.proportions import clopper_pearson
from shopwarranty.analysis.trial_sequence import (
    Plan,
    Said,
    boundary,
    chances,
    discordant_needed,
    repeated_interval,
    spent,
    standing,
)
from tests.bench.null_trials import wrong_of

PLAN = Plan(discordant_needed(2.0))


def test_the_spending_function_gives_lan_and_demets_published_values() -> None:
    """Five equal looks, one side 0.025: cumulative 0.0000, 0.0004, 0.0038, 0.0122, 0.0250 (from memory,
    as printed for the O'Brien-Fleming-like function; reproduced by its formula)."""
    found = spent(np.array([0.2, 0.4, 0.6, 0.8, 1.0]), 0.025)
    assert found == pytest.approx([0.0000, 0.0004, 0.0038, 0.0122, 0.0250], abs=5e-5)
    assert found[1] == pytest.approx(2 * (1 - ndtr(ndtri(1 - 0.0125) / 0.4**0.5)))


def test_the_boundary_is_crossed_no_more_often_than_allowed_by_counting_every_path() -> None:
    ends = boundary(12, 0.5, 0.05)
    crossed = sum(
        any(sum(path[:n]) >= ends[n - 1] for n in range(1, 13)) for path in product((0, 1), repeat=12)
    )
    assert 0 < crossed / 2**12 <= 0.05
    looser = [*ends[:-1], ends[-1] - 1]
    more = sum(
        any(sum(path[:n]) >= looser[n - 1] for n in range(1, 13)) for path in product((0, 1), repeat=12)
    )
    assert more / 2**12 > 0.05


def test_with_one_look_the_boundary_is_the_binomial_test() -> None:
    ends = boundary(1, 0.01, 0.025)
    assert ends == (1,)
    assert boundary(1, 0.5, 0.025) == (2,)


@pytest.mark.parametrize("ratio", [1.5, 2.0, 3.0])
def test_plans_hold_their_error_and_their_power_exactly(ratio: float) -> None:
    plan = Plan(discordant_needed(ratio), ratio)
    alike, apart = chances(plan, 0.5), chances(plan, ratio / (1 + ratio))
    assert alike[Said.MORE] + alike[Said.FEWER] <= 0.05
    assert alike[Said.NO_DIFFERENCE] >= 0.8
    assert apart[Said.MORE] >= 0.8
    assert apart[Said.NO_DIFFERENCE] <= 0.05


def test_a_mixture_sequence_without_a_largest_number_needs_half_as_many_again() -> None:
    """Robbins (1970), Beta(a, a) mixture, best of several a, for 80 % power at a doubling: the reason for
    spending the error over a fixed number instead."""
    needed = min(_mixture_needed(a) for a in (2.0, 5.0, 10.0, 20.0))
    assert needed >= 1.3 * 68  # 68: a single look by the normal approximation
    assert needed > 1.2 * _spending_alone()


def _spending_alone() -> int:
    """Discordant pairs for 80 % power, without the wish to call arms alike."""
    most = 60
    while _power(list(boundary(most, 0.5, 0.025))) < 0.8:
        most += 1
    return most


def _mixture_needed(a: float) -> int:
    ends: list[int] = []
    while len(ends) < 400:
        n = len(ends) + 1
        over = [s for s in range((n + 1) // 2, n + 1) if _mixture(a, s, n) >= -xlogy(1, 0.05)]
        ends.append(over[0] if over else n + 1)
        if n >= 60 and _power(ends) >= 0.8:
            return n
    return 400


def _mixture(a: float, count: int, total: int) -> float:
    return float(betaln(a + count, a + total - count) - betaln(a, a) + total * xlogy(1, 2))


def _power(ends: list[int], share: float = 2 / 3) -> float:
    walk, crossed = np.zeros(len(ends) + 2), 0.0
    walk[0] = 1.0
    for n, end in enumerate(ends, start=1):
        walk[1 : n + 1] = walk[1 : n + 1] * (1 - share) + walk[:n] * share
        walk[0] *= 1 - share
        crossed += float(walk[end : n + 1].sum())
        walk[end : n + 1] = 0.0
    return crossed


def test_the_interval_excludes_one_exactly_when_the_boundary_is_crossed() -> None:
    ends = boundary(PLAN.most, 0.5, 0.025)
    for n in (20, 40, 60, PLAN.most):
        at = repeated_interval(Discordant(ends[n - 1], n - ends[n - 1]), PLAN, 0.05)
        below = repeated_interval(Discordant(ends[n - 1] - 1, n - ends[n - 1] + 1), PLAN, 0.05)
        assert at.low >= 1 - 1e-5 > below.low


def test_at_the_end_the_interval_is_little_wider_than_one_made_once() -> None:
    counts = Discordant(50, PLAN.most - 50)
    often = repeated_interval(counts, PLAN, 0.05)
    once = clopper_pearson(counts.other, counts.total)
    assert often.low <= once.low / (1 - once.low) * 1.001
    assert often.high >= once.high / (1 - once.high) * 0.999
    assert often.high / often.low < 1.35 * once.high / (1 - once.high) / (once.low / (1 - once.low))


def test_an_answer_once_reached_stands_and_pairs_beyond_the_plan_change_nothing() -> None:
    reached = standing([True] * 20, PLAN)
    assert reached.said is Said.MORE
    later = standing([True] * 20 + [False] * 30, PLAN)
    assert (later.said, later.settled_at) == (Said.MORE, reached.settled_at)
    full = standing([True, False] * PLAN.most, PLAN)
    assert full.beyond == PLAN.most
    assert full.counts.total == PLAN.most


def test_swapping_the_arms_turns_the_answer_round() -> None:
    signs = [True] * 20 + [False] * 2
    a, b = standing(signs, PLAN), standing([not s for s in signs], PLAN)
    assert (a.said, b.said) == (Said.MORE, Said.FEWER)
    assert a.interval.low == pytest.approx(1 / b.interval.high, rel=1e-9)


def test_equal_counts_to_the_end_are_no_difference_that_matters() -> None:
    assert standing([True, False] * 40, PLAN).said is Said.NO_DIFFERENCE
    assert standing([], PLAN).said is Said.RUNNING


def test_a_hundred_trials_of_alike_arms_looked_at_weekly_are_rarely_told_apart() -> None:
    """The large round of 1,000 is a long part; here its 99 % interval must reach 5 % or less."""
    assert clopper_pearson(wrong_of(100, seed=20261125), 100, 0.99).low <= 0.05
