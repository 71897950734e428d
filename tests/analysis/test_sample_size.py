"""How many more watched places: against Schoenfeld's formula and the textbook's two proportions."""

import math

import numpy as np
import pytest
from scipy.stats import norm, t

from shopwarranty.analysis.sample_size import Today, critical, more_edges, predicted_power, times_as_many

from .reference import case

NULL = Today(se=math.sqrt(1 / 60 + 1 / 60), df=1e9, ratio=1.0, failures=60, reference_failures=60, edges=4000)


def test_two_equal_arms_need_schoenfelds_number_of_failures() -> None:
    """Schoenfeld (1983): 4 (z + z)^2 / log(2)^2 = 65.3 failures in two equal arms, were they alike.

    The formula scales today's failures to a doubling, in which the worse arm has twice as many, so
    it is compared through 1/(2 f1) + 1/d0 = log(2)^2 / (z + z)^2.
    """
    times = times_as_many(NULL)
    z = norm.ppf(0.975) + norm.ppf(0.8)
    assert 1 / (2 * 60 * times) + 1 / (60 * times) == pytest.approx((math.log(2) / z) ** 2, rel=1e-9)


def test_at_exactly_enough_the_predicted_power_is_80_per_cent() -> None:
    for family in (1, 34):
        assert predicted_power(1.0, family) == pytest.approx(0.8, abs=1e-9)
        assert predicted_power(0.5, family) > 0.8 > predicted_power(2.0, family)


@pytest.mark.parametrize(
    ("times", "family", "power"),
    [(1.18, 1, 73), (0.86, 1, 86), (0.62, 1, 94), (2.44, 34, 27), (1.29, 34, 64), (1.10, 34, 74)],
)
def test_predicted_power_matches_the_table_worked_out_when_the_method_was_chosen(
    times: float, family: int, power: int
) -> None:
    assert 100 * predicted_power(times, family) == pytest.approx(power, abs=1.0)


def test_two_proportions_agree_with_the_textbook_within_a_tenth() -> None:
    """10 % against 5 % at 80 %: 434 in each group (R's power.prop.test).

    The hazards are 2.05 apart and not 2, and the textbook takes the variance of the difference.
    """
    per_group = case("k_open_sample_size")["expected"]["two_prop"][1]["n_per_group_raw"]
    d1, d0 = 0.10 * per_group, 0.05 * per_group
    today = Today(math.sqrt(1 / d1 + 1 / d0), 1e9, 2.0, d1, d0, round(2 * per_group))
    apart = math.log(math.log(0.90) / math.log(0.95))
    assert times_as_many(today) * (math.log(2) / apart) ** 2 == pytest.approx(1.0, abs=0.1)


def test_more_edges_are_whole_and_zero_when_today_suffices() -> None:
    few = Today(math.sqrt(2 / 12), 1e9, 1.0, 12, 12, 800)
    assert more_edges(few) == round((1.1 * times_as_many(few) - 1) * 800)
    assert more_edges(few, family=30) > more_edges(few, family=1) > 0
    assert more_edges(Today(0.05, 1e9, 1.0, 2000, 2000, 90_000)) == 0


def test_an_arm_without_failures_counts_half_a_failure() -> None:
    bare = Today(se=1.5, df=10, ratio=0.2, failures=0, reference_failures=20, edges=500)
    assert np.isfinite(times_as_many(bare))
    assert more_edges(bare) > 500


def test_few_degrees_of_freedom_take_students_value() -> None:
    assert critical(10, 1) == pytest.approx(t.ppf(0.975, 10))
    assert critical(30, 1) == pytest.approx(norm.ppf(0.975))
    assert critical(200, 34) == pytest.approx(norm.ppf(1 - 0.025 / 34))
