"""Shrinkage against a published example, statsmodels' negative binomial and written-out integrals."""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import gamma, poisson
from statsmodels.discrete.discrete_model import NegativeBinomial

from shopwarranty.analysis.ranking import Spread, estimate_spread, overdispersion, rank

from .reference import case


def pumps() -> tuple[np.ndarray, np.ndarray]:
    rows = case("pump_failures")["data"]
    return np.array(rows["failures"], dtype=float), np.array(rows["exposure"])


def test_the_ten_pumps_give_the_published_gamma() -> None:
    published = case("pump_failures")["expected"]["published_from_memory"]
    spread = estimate_spread(*pumps(), prior=False)
    assert spread.a == pytest.approx(published["shape"], abs=0.006)
    assert spread.a / spread.m == pytest.approx(published["rate"], abs=0.006)


def test_the_spread_is_that_of_statsmodels_negative_binomial() -> None:
    failures, exposure = pumps()
    model = NegativeBinomial(failures, np.ones(10), exposure=exposure)
    theirs = model.fit(disp=0, method="bfgs", maxiter=500, gtol=1e-10).params
    spread = estimate_spread(failures, exposure, prior=False)
    assert spread.a == pytest.approx(1 / theirs[1], rel=1e-5)
    assert spread.m == pytest.approx(np.exp(theirs[0]), rel=1e-5)


def test_rat_tumours_are_shrunk_as_the_beta_binomial_does_them() -> None:
    """Rare events: Poisson for binomial moves a group's share by at most two points."""
    rats = case("i_open_rat_tumour")
    y, n = (np.array(rats["data"][k], dtype=float) for k in ("y", "n"))
    whole = y.sum() / n.sum()
    shares = rank(y, n * whole, seed=1).ratio * whole
    theirs = np.array(rats["expected"]["ml_all_71"]["posterior_mean"])
    np.testing.assert_allclose(shares, theirs, atol=0.02)
    assert set(np.argsort(shares)[-4:]) == set(np.argsort(theirs)[-4:])
    assert np.corrcoef(shares, theirs)[0, 1] > 0.999


def test_the_posterior_is_prior_times_likelihood() -> None:
    ranked = rank(np.array([3.0, 9.0, 1.0, 14.0]), np.array([6.0, 6.0, 2.0, 9.0]), seed=1)
    spread, observed, chance = ranked.spread, 9, 6.0

    def weight(theta: float) -> float:
        prior = gamma.pdf(theta, spread.a, scale=spread.m / spread.a)
        return float(prior * poisson.pmf(observed, chance * theta))

    total = quad(weight, 0, 20)[0]
    assert ranked.ratio[1] == pytest.approx(quad(lambda t: t * weight(t), 0, 20)[0] / total, rel=1e-6)
    assert quad(weight, 0, ranked.low[1])[0] / total == pytest.approx(0.025, abs=1e-6)
    assert quad(weight, ranked.high[1], 20)[0] / total == pytest.approx(0.025, abs=1e-6)


def test_one_of_one_does_not_top_the_list() -> None:
    """A place that failed once with hardly any exposure is pulled to the whole."""
    observed = np.array([1.0, 30.0, 20.0, 18.0, 22.0])
    expected = np.array([0.05, 15.0, 24.0, 25.0, 25.0])
    ranked = rank(observed, expected, seed=2)
    assert ranked.order[0] == 1
    assert ranked.ratio[0] < 2


def test_the_chance_to_be_among_the_worst_three_adds_up_to_three() -> None:
    rng = np.random.default_rng(3)
    ranked = rank(rng.poisson(10, 12).astype(float), np.full(12, 10.0), seed=4)
    assert ranked.p_worst3.sum() == pytest.approx(3.0)
    np.testing.assert_array_equal(
        ranked.p_worst3, rank(rng.poisson(0, 12) + _again(3), np.full(12, 10.0), seed=4).p_worst3
    )


def _again(seed: int) -> np.ndarray:
    return np.random.default_rng(seed).poisson(10, 12).astype(float)


def test_clearly_worse_groups_are_named_and_few_groups_are_all_among_three() -> None:
    ranked = rank(np.array([90.0, 80.0, 70.0, 10.0, 12.0]), np.full(5, 52.4), seed=5)
    assert ranked.p_worst3 == pytest.approx([1, 1, 1, 0, 0], abs=0.01)
    assert rank(np.array([3.0, 5.0]), np.array([4.0, 4.0]), seed=5).p_worst3.tolist() == [1.0, 1.0]


def test_scatter_beyond_chance_pulls_harder() -> None:
    observed, expected = np.array([20.0, 8.0, 12.0, 10.0]), np.full(4, 12.5)
    plain, scattered = rank(observed, expected, seed=6), rank(observed, expected, seed=6, phi=2.0)
    assert scattered.high[0] - scattered.low[0] > plain.high[0] - plain.low[0]
    assert scattered.ratio[0] < plain.ratio[0]


def test_identical_places_within_vehicles_show_as_scatter() -> None:
    """k copies of each place in one cell have phi = k."""
    rng = np.random.default_rng(7)
    found = np.where(rng.random(4000) < 0.05, 5.0, 0.0)
    assert overdispersion(found, np.full(4000, found.mean())) == pytest.approx(5 * 0.95, rel=0.02)
    assert overdispersion(np.zeros(9), np.full(9, 0.1)) == 1.0


def test_nothing_failed_or_a_negative_count_is_refused() -> None:
    with pytest.raises(ValueError, match="nothing failed"):
        rank(np.zeros(3), np.ones(3), seed=1)
    with pytest.raises(ValueError, match="not negative"):
        rank(np.array([1.0, -1.0]), np.ones(2), seed=1)
    assert Spread(2.0, 1.0).a == 2.0
