"""How often a sweep misses: against published limits, an independent variance, and drawn worlds."""

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.stats import t

from shopwarranty.analysis.arrays import BoolArray, IntArray
from shopwarranty.analysis.miss_rate import FEWEST_VISITS, miss_rate
from shopwarranty.analysis.proportions import clopper_pearson

from .reference import case


def first(wrong: int, places: int) -> BoolArray:
    return np.arange(places) < wrong


def test_one_place_a_visit_gives_newcombes_exact_limits() -> None:
    """Newcombe RG (1998) Stat Med 17:857-872, table I, Clopper-Pearson, to its four digits."""
    newcombe = case("a_open_newcombe1998")
    printed = newcombe["expected"]["published_4dp_from_memory"]["clopper_pearson"]
    for pair, limits in zip(newcombe["data"], printed, strict=True):
        wrong, places = pair["x"], pair["n"]
        found = miss_rate(np.arange(places), first(wrong, places))
        assert (found.places, found.wrong, found.visits) == (places, wrong, places)
        assert found.interval is not None
        assert (found.interval.low, found.interval.high) == pytest.approx(limits, abs=6e-5)


def pairs(seed: int, visits: int, alike: float) -> tuple[IntArray, BoolArray]:
    """Two places a visit; visits differ in how careful they were (Beta, mean 0.1, correlation `alike`)."""
    draw = np.random.default_rng(seed)
    both = 0.1 * (1 - alike) / alike, 0.9 * (1 - alike) / alike
    chance = draw.beta(*both, visits)
    visit = np.repeat(np.arange(visits), 2)
    return visit, draw.random(2 * visits) < chance[visit]


def test_the_design_effect_is_the_ratio_of_variances_a_regression_library_finds() -> None:
    """statsmodels, mean alone: variance by clusters over variance by places (HC1)."""
    visit, wrong = pairs(5, 60, 0.4)
    plain = sm.OLS(wrong.astype(float), np.ones(len(wrong)))
    by_visit = plain.fit(cov_type="cluster", cov_kwds={"groups": visit}).bse[0] ** 2
    by_place = plain.fit(cov_type="HC1").bse[0] ** 2
    assert by_visit > by_place
    few = (t.ppf(0.975, len(wrong) - 1) / t.ppf(0.975, 59)) ** 2
    assert miss_rate(visit, wrong).effective == pytest.approx(len(wrong) * by_place / by_visit * few)


def test_two_places_of_a_visit_that_always_agree_tell_no_more_than_one() -> None:
    visit = np.repeat(np.arange(50), 2)
    found, alone = miss_rate(visit, np.repeat(first(5, 50), 2)), clopper_pearson(5, 50)
    assert found.share == 0.1
    assert found.interval is not None
    assert found.interval.low < alone.low
    assert found.interval.high > alone.high
    assert found.interval.high == pytest.approx(alone.high, abs=0.01)


def test_none_wrong_counts_visits_and_never_says_zero_alone() -> None:
    """0 of 20: 0 to 16.84 % (Newcombe 1998, table I); a second clean place a visit takes nothing off."""
    for each in (1, 2):
        found = miss_rate(np.repeat(np.arange(20), each), np.zeros(20 * each, bool))
        assert (found.share, found.effective) == (0.0, 20.0)
        assert found.interval is not None
        assert (found.interval.low, found.interval.high) == pytest.approx((0, 0.1684), abs=6e-5)


@pytest.mark.parametrize("visits", [0, 1, FEWEST_VISITS - 1])
def test_below_twenty_visits_it_counts_and_does_not_tell(visits: int) -> None:
    visit = np.repeat(np.arange(visits), 2)
    found = miss_rate(visit, np.zeros(2 * visits, bool))
    assert (found.places, found.visits) == (2 * visits, visits)
    assert (found.share, found.interval, found.effective) == (None, None, None)


@pytest.mark.parametrize(("visits", "alike"), [(25, 0.02), (40, 0.3), (120, 0.3), (40, 0.8)])
def test_the_interval_holds_the_truth_as_often_as_it_says(visits: int, alike: float) -> None:
    """400 seeded worlds of 10 % each; below 93 % of them an honest 95 % interval falls once in about 30."""
    held = 0
    for seed in range(400):
        interval = miss_rate(*pairs(seed, visits, alike)).interval
        assert interval is not None
        held += interval.low <= 0.1 <= interval.high
    assert held >= 0.93 * 400, held


def test_a_place_without_a_visit_is_an_error() -> None:
    with pytest.raises(ValueError, match="visit"):
        miss_rate(np.arange(3), np.zeros(2, bool))
