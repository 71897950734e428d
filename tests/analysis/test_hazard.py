"""The likelihood against R's grouped-time and Weibull fits, finite differences and brute force."""

import itertools
from collections.abc import Sequence

import numpy as np
import pytest
from scipy.optimize import minimize, minimize_scalar

from shopwarranty.analysis.arrays import FloatArray, IntArray
from shopwarranty.analysis.bands import CHECK_BANDS, Bands
from shopwarranty.analysis.exposure import NEVER, Lives, clusters_from_zero, lives_of
from shopwarranty.analysis.hazard import (
    UNPENALISED,
    Fit,
    NoFailures,
    Packed,
    Penalty,
    fit,
    likelihood,
    penalised,
)
from shopwarranty.analysis.patterns import Factor, Looks, Patterned, looks_of, packed_by
from shopwarranty.analysis.sandwich import Vehicles, errors

from .reference import case
from .worlds import constant_world, late_world


def factor(name: str, codes: Sequence[int] | IntArray) -> Factor:
    return Factor(name, np.asarray(codes), ("no", "yes"))


def some_factors(lives: Lives) -> list[Factor]:
    rows = np.arange(len(lives))
    return [Factor("panel", rows % 4, ("a", "b", "c", "d")), factor("heated", lives.cluster % 2)]


def grouped_retinopathy() -> tuple[Looks, Patterned]:
    """Rebuild lives from the person-period rows: one row a unit and interval it was at risk in."""
    table = case("f_open_retino_cloglog")["data"]
    rows, cuts = table["person_period"], table["cuts"]
    last = {unit: i for i, unit in enumerate(rows["unit"])}.values()
    ends = [rows["interval"][i] for i in last]
    failing = [rows["y"][i] for i in last]
    clean = [cuts[k - 1] if y else cuts[k] for k, y in zip(ends, failing, strict=True)]
    failed = [cuts[k] if y else NEVER for k, y in zip(ends, failing, strict=True)]
    lives = lives_of([0] * len(ends), clean, failed, [rows["cluster"][i] for i in last])
    factors = [factor(name, [rows[name][i] for i in last]) for name in ("trt", "adult")]
    looks = looks_of(lives, Bands(tuple(cuts[1:-1])))
    return looks, packed_by(looks, factors)


def interval_coefficients(found: Fit) -> FloatArray:
    """The table's coefficients are log cumulative hazards of whole intervals, ours log hazards a day."""
    widths = np.diff(case("f_open_retino_cloglog")["data"]["cuts"])
    return np.concatenate([found.log_hazard + np.log(widths), found.log_ratio])


def test_grouped_time_hazards_match_rs_complementary_log_log_fit() -> None:
    expected = case("f_open_retino_cloglog")["expected"]["fit_main"]
    _, patterned = grouped_retinopathy()
    found = fit(patterned.packed, UNPENALISED)
    assert interval_coefficients(found) == pytest.approx(list(expected["coef"].values()), abs=1e-7)
    assert found.log_likelihood == pytest.approx(expected["loglik"], abs=1e-7)


def test_model_and_cluster_errors_match_rs_sandwich(monkeypatch: pytest.MonkeyPatch) -> None:
    expected = case("f_open_retino_cloglog")["expected"]["fit_main"]
    looks, patterned = grouped_retinopathy()
    found = fit(patterned.packed, UNPENALISED)
    vehicles = Vehicles(*clusters_from_zero(looks.lives.cluster))
    monkeypatch.setattr("shopwarranty.analysis.sandwich.LEAVE_OUT_BELOW", 0)
    spread = errors(looks, patterned, found, vehicles, np.eye(9))
    plain = spread.by_vehicle * np.sqrt((vehicles.count - 1) / vehicles.count)
    assert spread.model == pytest.approx(list(expected["se_model_observed_info"].values()), abs=1e-7)
    assert plain == pytest.approx(list(expected["se_cluster_observed_info_bread"].values()), abs=1e-7)


def weibull_fit(name: str, shape: float, scale: int = 100) -> tuple[Fit, float]:
    """One band on the transformed age t ** shape is the Weibull model; returns fit and log-likelihood."""
    rows = case(name)["data"]
    left = np.array(rows.get("left", rows.get("L")), dtype=float)
    right = np.array([np.inf if r is None else r for r in rows.get("right", rows.get("R"))], dtype=float)
    weight = np.array(rows.get("w", np.ones(len(left))), dtype=int)
    left, right = np.repeat(left, weight), np.repeat(right, weight)
    group = np.array(rows.get("radchem", np.zeros(len(left))), dtype=int)
    failing = np.isfinite(right)
    design = np.array([[0.0], [1.0]]) if group.any() else np.zeros((1, 0))
    exposure = np.bincount(group, left**shape, len(design)).astype(np.float64)[:, None]
    interval = (right[failing] ** shape - left[failing] ** shape)[:, None]
    found = fit(Packed(design, exposure, group[failing], interval), UNPENALISED)
    return found, found.log_likelihood


def best_shape(name: str) -> tuple[float, Fit]:
    best = minimize_scalar(
        lambda s: -weibull_fit(name, s)[1], bounds=(0.5, 3.5), method="bounded", options={"xatol": 1e-9}
    )
    return best.x, weibull_fit(name, best.x)[0]


def test_the_weibull_special_case_matches_rs_survreg_on_the_breast_cosmesis_rows() -> None:
    expected = case("e_open_bcos_weibull")["expected"]["weibull"]
    shape, found = best_shape("e_open_bcos_weibull")
    assert shape == pytest.approx(expected["shape"], abs=1e-4)
    assert found.log_ratio[0] == pytest.approx(expected["ph_log_hr"], abs=1e-4)
    assert found.log_likelihood == pytest.approx(expected["loglik"], abs=1e-6)


def test_the_exponential_special_case_matches_rs_survreg() -> None:
    expected = case("e_open_bcos_weibull")["expected"]["exponential"]
    found, height = weibull_fit("e_open_bcos_weibull", 1.0)
    assert height == pytest.approx(expected["loglik"], abs=1e-6)
    assert -found.log_hazard[0] == pytest.approx(expected["coef"]["(Intercept)"], abs=1e-5)
    assert -found.log_ratio[0] == pytest.approx(expected["coef"]["x"], abs=1e-5)


def test_nelsons_cracked_parts_give_the_published_weibull() -> None:
    expected = case("e_open_cracks_weibull")["expected"]
    shape, found = best_shape("e_open_cracks_weibull")
    assert shape == pytest.approx(expected["published_from_memory"]["weibull_shape"], abs=1e-4)
    assert found.log_likelihood == pytest.approx(expected["weibull"]["loglik"], abs=1e-6)
    scale = np.exp(-found.log_hazard[0] / shape)
    assert scale == pytest.approx(expected["published_from_memory"]["weibull_scale"], abs=1e-3)


def test_the_weibull_special_case_agrees_with_lifelines_to_three_digits() -> None:
    from lifelines import WeibullFitter

    rows = case("e_open_bcos_weibull")["data"]
    group = np.array(rows["radchem"])
    right = np.array([np.inf if r is None else r for r in rows["right"]], dtype=float)[group == 0]
    left = np.array(rows["left"], dtype=float)[group == 0]
    theirs = WeibullFitter().fit_interval_censoring(left, right)
    ours = case("e_open_bcos_weibull")["expected"]["weibull_rad"]
    assert theirs.rho_ == pytest.approx(ours["shape"], rel=1e-3)
    exposure, finite = np.array([[np.sum(left**theirs.rho_)]]), np.isfinite(right)
    interval = (right[finite] ** theirs.rho_ - left[finite] ** theirs.rho_)[:, None]
    packed = Packed(np.zeros((1, 0)), exposure, np.zeros(finite.sum(), dtype=int), interval)
    found = fit(packed, UNPENALISED)
    assert np.exp(-found.log_hazard[0] / theirs.rho_) == pytest.approx(theirs.lambda_, rel=1e-3)


@pytest.mark.parametrize("penalty", [UNPENALISED, Penalty(), Penalty(2.5, 0.7)])
def test_gradient_and_information_match_finite_differences(penalty: Penalty) -> None:
    lives = late_world(7)
    packed = packed_by(looks_of(lives, CHECK_BANDS), some_factors(lives)).packed
    theta = np.concatenate([[-8.0, -8.6, -9.1, -7.7], [0.3, -0.4, 0.8, -0.2]])
    here, step = penalised(packed, theta, penalty), 1e-5
    for k in range(len(theta)):
        nudge = np.eye(len(theta))[k] * step
        above, below = penalised(packed, theta + nudge, penalty), penalised(packed, theta - nudge, penalty)
        assert (above.value - below.value) / (2 * step) == pytest.approx(here.gradient[k], abs=1e-5)
        bend = -(above.gradient - below.gradient) / (2 * step)
        np.testing.assert_allclose(here.information[:, k], bend, atol=1e-5, rtol=1e-6)


def test_the_likelihood_is_what_the_formula_says_life_by_life() -> None:
    lives = late_world(8, vehicles=9, places=4, rate=2e-3)
    factors = some_factors(lives)
    looks = looks_of(lives, CHECK_BANDS)
    theta = np.array([-6.0, -7.0, -6.5, -6.2, 0.5, -0.5, 0.2, 0.4])

    def hazard_between(start: int, end: int, shift: float) -> float:
        days = CHECK_BANDS.days_by(np.array([end])) - CHECK_BANDS.days_by(np.array([start]))
        return float(np.exp(shift) * (days[0] @ np.exp(theta[:4])))

    total = 0.0
    for i in range(len(lives)):
        shift = sum(
            theta[4 + k]
            for k, (f, level) in enumerate([(0, 1), (0, 2), (0, 3), (1, 1)])
            if factors[f].codes[i] == level
        )
        total -= hazard_between(int(lives.entry[i]), int(lives.last_clean[i]), shift)
        if lives.failed[i] != NEVER:
            total += np.log1p(-np.exp(-hazard_between(int(lives.last_clean[i]), int(lives.failed[i]), shift)))
    got = likelihood(packed_by(looks, factors).packed, theta).value
    assert got == pytest.approx(total, rel=1e-12)


def test_newton_finds_what_a_general_search_finds() -> None:
    lives = constant_world(9, rate=6e-4)
    packed = packed_by(looks_of(lives, CHECK_BANDS), some_factors(lives)).packed
    found = fit(packed)
    start = np.concatenate([np.full(4, -7.0), np.zeros(4)])
    search = minimize(
        lambda t: -penalised(packed, t, Penalty()).value,
        start,
        jac=lambda t: -penalised(packed, t, Penalty()).gradient,
        method="BFGS",
        options={"gtol": 1e-8},
    )
    np.testing.assert_allclose(found.theta, search.x, atol=1e-5)


def fitted(lives: Lives, factors: list[Factor]) -> Fit:
    return fit(packed_by(looks_of(lives, CHECK_BANDS), factors).packed)


def test_the_order_of_lives_and_the_names_of_vehicles_do_not_matter() -> None:
    lives = late_world(10)
    factors = some_factors(lives)
    order = np.random.default_rng(1).permutation(len(lives))
    moved = lives.only(order)
    renamed = Lives(moved.entry, moved.clean, moved.failed, 1000 - moved.cluster)
    there = fitted(renamed, [f.only(order) for f in factors])
    np.testing.assert_allclose(fitted(lives, factors).theta, there.theta, atol=1e-9)


def test_changing_the_reference_level_only_turns_the_sign_without_penalty() -> None:
    lives = constant_world(11, rate=6e-4)
    looks = looks_of(lives, CHECK_BANDS)
    codes = lives.cluster % 2
    one, other = (
        fit(packed_by(looks, [Factor("x", codes, ("a", "b"), reference)]).packed, UNPENALISED)
        for reference in (0, 1)
    )
    assert one.log_ratio[0] == pytest.approx(-other.log_ratio[0], abs=1e-8)


def test_splitting_a_clean_interval_in_two_changes_nothing() -> None:
    lives = constant_world(12, rate=6e-4)
    cut = 30
    crosses = lives.last_clean > cut
    first = lives_of(
        np.zeros(crosses.sum(), int), np.full(crosses.sum(), cut), np.full(crosses.sum(), NEVER),
        lives.cluster[crosses],
    )  # fmt: skip
    rest = Lives(np.where(crosses, cut, lives.entry), lives.clean, lives.failed, lives.cluster)
    columns = (
        np.concatenate([getattr(first, c), getattr(rest, c)]) for c in ("entry", "clean", "failed", "cluster")
    )
    whole, split = fitted(lives, []), fitted(Lives(*columns), [])
    np.testing.assert_allclose(whole.theta, split.theta, atol=1e-9)


def test_lives_without_a_look_add_nothing() -> None:
    lives = late_world(13)
    kept = lives.only(lives.watched)
    np.testing.assert_allclose(fitted(lives, []).theta, fitted(kept, []).theta, atol=1e-12)


def test_rescaling_days_and_bands_moves_only_the_level() -> None:
    lives = constant_world(14, rate=6e-4)
    ten = Lives(
        lives.entry * 10,
        np.where(lives.clean > 0, lives.clean * 10, lives.clean),
        np.where(lives.failed > 0, lives.failed * 10, lives.failed),
        lives.cluster,
    )
    factors = some_factors(lives)
    one = fit(packed_by(looks_of(lives, Bands((30, 180, 540))), factors).packed)
    other = fit(packed_by(looks_of(ten, Bands((300, 1800, 5400))), factors).packed)
    np.testing.assert_allclose(one.log_ratio, other.log_ratio, atol=1e-8)
    np.testing.assert_allclose(one.log_hazard, other.log_hazard + np.log(10), atol=1e-8)


def test_the_penalty_keeps_a_level_without_failures_finite() -> None:
    lives = constant_world(15, rate=6e-4)
    spotless = (lives.cluster % 5 == 0) & lives.found
    failed = np.where(spotless, NEVER, lives.failed)
    tidy = Lives(lives.entry, np.where(spotless, 730, lives.clean), failed, lives.cluster)
    found = fitted(tidy, [factor("x", (lives.cluster % 5 == 0).astype(int))])
    assert -8 < found.log_ratio[0] < -1


def test_without_failures_there_is_nothing_to_fit() -> None:
    lives = lives_of([0, 0], [14, 90], [NEVER, NEVER], [1, 2])
    with pytest.raises(NoFailures):
        fitted(lives, [])


def test_the_maximum_is_the_best_on_a_grid_round_it() -> None:
    lives = constant_world(16, vehicles=10, places=5, rate=2e-3)
    packed = packed_by(looks_of(lives, Bands((100,))), [factor("x", lives.cluster % 2)]).packed
    found = fit(packed)
    for shift in itertools.product((-0.05, 0.0, 0.05), repeat=3):
        assert penalised(packed, found.theta + shift, Penalty()).value <= found.log_likelihood + 1e-12
