"""Methods the product does not have: the libraries used as oracles are held to the same worked examples.

What a library is trusted for elsewhere in these tests must itself agree with a published value.
"""

import warnings

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.stats import binom, binomtest, fisher_exact
from scipy.stats.contingency import odds_ratio
from statsmodels.stats.contingency_tables import mcnemar

from shopwarranty.analysis.arrays import FloatArray
from shopwarranty.analysis.npmle import masses

from .reference import case


def test_fishers_tea_tasting_by_scipy() -> None:
    tea = case("b_open_fisher_tea")
    table, expected = np.array(tea["data"]), tea["expected"]
    assert fisher_exact(table).pvalue == pytest.approx(expected["p_two_sided"], abs=1e-10)
    assert fisher_exact(table, "greater").pvalue == pytest.approx(expected["p_greater"], abs=1e-10)
    conditional = odds_ratio(table, kind="conditional")
    assert conditional.statistic == pytest.approx(expected["cond_or"], abs=1e-6)
    interval = conditional.confidence_interval(0.95)
    assert (interval.low, interval.high) == pytest.approx(expected["cond_or_ci95"], rel=1e-6)


@pytest.mark.parametrize("name", ["approval", "small"])
def test_mcnemars_pairs_by_statsmodels_and_scipy(name: str) -> None:
    expected = case("b_open_mcnemar")["expected"][name]
    b, c = expected["b"], expected["c"]
    assert mcnemar([[0, b], [c, 0]], exact=True).pvalue == pytest.approx(
        expected["exact_p_two_sided"], abs=1e-10
    )
    low, high = binomtest(b, b + c).proportion_ci(0.95, "exact")
    odds = (low / (1 - low), high / (1 - high))
    assert odds == pytest.approx(expected["cond_or_ci95_exact"], rel=1e-7)


@pytest.mark.parametrize(
    ("p1", "p2", "p"), [((2, 40), (9, 35), 0.0194), ((1, 12), (3, 10), 0.293), ((0, 8), (3, 9), 0.206)]
)
def test_small_groups_by_fishers_exact_test(p1: tuple[int, int], p2: tuple[int, int], p: float) -> None:
    """Worked out independently: 2 of 40 against 9 of 35, 1 of 12 against 3 of 10, 0 of 8 against 3 of 9."""
    table = [[p1[0], p1[1] - p1[0]], [p2[0], p2[1] - p2[0]]]
    assert fisher_exact(table).pvalue == pytest.approx(p, abs=0.0006)


def test_lifelines_regression_on_intervals_agrees_with_survreg() -> None:
    """The library the speed of a review is measured beside gets the right answer."""
    import pandas as pd  # type: ignore[import-untyped]
    from lifelines import WeibullAFTFitter

    rows = case("e_open_bcos_weibull")
    expected = rows["expected"]["weibull"]
    table = pd.DataFrame(
        {
            "left": np.array(rows["data"]["left"], dtype=float),
            "right": [np.inf if r is None else float(r) for r in rows["data"]["right"]],
            "x": rows["data"]["radchem"],
        }
    )
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fitted = WeibullAFTFitter().fit_interval_censoring(table, "left", "right")
    assert fitted.params_["lambda_"]["x"] == pytest.approx(expected["coef"]["x"], abs=1e-4)
    assert np.exp(fitted.params_["rho_"]["Intercept"]) == pytest.approx(expected["shape"], abs=1e-3)


def test_statsmodels_grouped_time_fit_agrees_with_r() -> None:
    import statsmodels.api as sm

    rows = case("f_open_retino_cloglog")
    period, expected = rows["data"]["person_period"], rows["expected"]["fit_main"]
    interval = np.array(period["interval"])
    design = np.column_stack([interval == k for k in range(1, 8)] + [period["trt"], period["adult"]])
    family = sm.families.Binomial(sm.families.links.CLogLog())
    fitted = sm.GLM(np.array(period["y"]), design.astype(float), family=family).fit()
    assert fitted.params == pytest.approx(list(expected["coef"].values()), abs=1e-6)


def clustered_weibull() -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
    rows = case("e_open_retino_cluster_weibull")["data"]
    left = np.array(rows["left"], dtype=float)
    right = np.array([np.inf if r is None else r for r in rows["right"]], dtype=float)
    design = np.column_stack([np.ones(len(left)), rows["trt"], rows["adult"]])
    kept = (left > 0) | np.isfinite(right)
    return left[kept], right[kept], design[kept], np.array(rows["cluster"])[kept], kept


def test_the_clustered_weibull_example_has_a_sandwich_of_summed_scores() -> None:
    """The general rule behind our errors by vehicle, on a Weibull fit written for this test alone."""
    left, right, design, cluster, _ = clustered_weibull()
    expected = case("e_open_retino_cluster_weibull")["expected"]

    def rows_of(theta: FloatArray) -> FloatArray:
        scale = np.exp(theta[3])
        rise = np.exp(-(design @ theta[:3]) / scale)
        to_left = rise * left ** (1 / scale)
        finite = np.isfinite(right)
        to_right = np.where(finite, rise * np.where(finite, right, 1.0) ** (1 / scale), np.inf)
        return np.asarray(-to_left + np.log(-np.expm1(-(to_right - to_left))))

    def slope(theta: FloatArray, step: float = 1e-5) -> FloatArray:
        nudges = np.eye(4) * step
        return np.column_stack([(rows_of(theta + n) - rows_of(theta - n)) / (2 * step) for n in nudges])

    def down(theta: FloatArray) -> tuple[float, FloatArray]:
        return -float(rows_of(theta).sum()), -slope(theta).sum(axis=0)

    start = np.array([4.0, 0.5, 0.0, 0.1])
    best = minimize(down, start, jac=True, method="BFGS", options={"gtol": 1e-7}).x
    information = -np.column_stack(
        [(slope(best + n).sum(0) - slope(best - n).sum(0)) / 2e-4 for n in np.eye(4) * 1e-4]
    )
    summed = np.array([slope(best)[cluster == g].sum(0) for g in np.unique(cluster)])
    inverse = np.linalg.inv(information)
    robust = np.sqrt(np.diag(inverse @ summed.T @ summed @ inverse))
    assert best[:3] == pytest.approx(list(expected["coef"].values()), abs=1e-4)
    assert rows_of(best).sum() == pytest.approx(expected["loglik"], abs=1e-6)
    assert robust == pytest.approx(list(expected["se_cluster_robust"].values()), abs=1e-4)


def test_firths_penalty_gives_the_published_endometrial_estimates() -> None:
    """A penalised logistic fit written for this test alone; ours is log-F, chosen after simulation."""
    rows = case("g_open_endometrial_firth")
    y = np.array(rows["data"]["HG"], dtype=float)
    design = np.column_stack([np.ones(len(y)), *(rows["data"][k] for k in ("NV", "PI", "EH"))])
    beta = np.zeros(4)
    for _ in range(200):
        p = 1 / (1 + np.exp(-design @ beta))
        weight = p * (1 - p)
        inverse = np.linalg.inv((design * weight[:, None]).T @ design)
        leverage = weight * np.einsum("ij,jk,ik->i", design, inverse, design)
        beta = beta + np.clip(inverse @ design.T @ (y - p + leverage * (0.5 - p)), -1, 1)
    assert beta == pytest.approx(rows["expected"]["coef"], abs=1e-5)
    assert np.sqrt(np.diag(inverse)) == pytest.approx(rows["expected"]["se_wald"], abs=1e-5)


def test_fay_and_shaws_two_arm_statistics_follow_from_our_masses() -> None:
    """Scores of Wilcoxon and Finkelstein from the pooled steps, summed over the second arm."""
    rows, expected = (case("e_open_bcos_tests")[k] for k in ("data", "expected"))
    left = np.array(rows["left"], dtype=float)
    right = np.array([np.inf if r is None else r for r in rows["right"]], dtype=float)
    arm = np.array(rows["radchem"]) == 1
    pooled = masses(left, right, np.ones(len(left)))
    ends = np.array([np.inf if m.until is None else m.until for m in pooled])
    starts = np.array([m.after for m in pooled])
    mass = np.array([m.mass for m in pooled]) / sum(m.mass for m in pooled)
    at_left = np.array([mass[starts >= x].sum() for x in left])
    at_right = np.array([mass[ends > x].sum() for x in right])
    wilcoxon = at_left + at_right - 1
    logs = [np.where(s > 1e-12, s * np.log(np.maximum(s, 1e-300)), 0.0) for s in (at_left, at_right)]
    finkelstein = (logs[0] - logs[1]) / (at_left - at_right)
    full = expected["full_precision"]
    for score, name in ((wilcoxon, "wmw"), (finkelstein, "logrank2_finkelstein")):
        n = len(left)
        spread = arm.sum() * (~arm).sum() / (n * (n - 1)) * ((score - score.mean()) ** 2).sum()
        assert score[arm].sum() == pytest.approx(full[name]["U_group1"], abs=1e-4)
        assert score[arm].sum() / np.sqrt(spread) == pytest.approx(full[name]["Z"], abs=1e-4)


def test_wafers_over_the_limits_of_a_p_chart_by_scipy() -> None:
    found = case("j_open_nist_pchart_ewma")
    chart, expected = found["data"]["pchart"], found["expected"]["pchart"]
    shares = np.array(chart["defectives"]) / chart["n"]
    spread = binom(chart["n"], shares.mean()).std() / chart["n"]
    low, high = shares.mean() - 3 * spread, shares.mean() + 3 * spread
    assert (low, high) == pytest.approx((expected["lcl"], expected["ucl"]), abs=1e-9)
    outside = np.flatnonzero((shares > high) | (shares < low)) + 1
    assert outside.tolist() == expected["signals_1based"]


def test_an_exponentially_weighted_mean_by_pandas() -> None:
    import pandas as pd

    found = case("j_open_nist_pchart_ewma")
    chart, expected = found["data"]["ewma"], found["expected"]["ewma"]
    path = pd.Series([chart["target"], *chart["x"]]).ewm(alpha=chart["lam"], adjust=False).mean()
    assert path.to_numpy() == pytest.approx(np.array(expected["ewma_from_start"]), abs=1e-9)
    half = chart["L"] * chart["sigma"] * np.sqrt(chart["lam"] / (2 - chart["lam"]))
    ends = (chart["target"] - half, chart["target"] + half)
    assert ends == pytest.approx((expected["lcl"], expected["ucl"]), abs=1e-9)


def test_nelsons_valve_seats_by_lifelines() -> None:
    """Repairs as a counting process. The library takes no stretch of length nought, so of two on one day the
    second comes a moment later, and histories end a moment after that."""
    from lifelines import NelsonAalenFitter

    found = case("l_open_valve_mcf")
    rows = np.array([found["data"][key] for key in ("id", "time", "event")], dtype=float).T
    ends = rows[np.lexsort((-rows[:, 2], rows[:, 1], rows[:, 0]))]
    same = np.r_[False, (ends[1:, :2] == ends[:-1, :2]).all(axis=1)]
    ends[:, 1] += np.where(same, 1e-3, np.where(ends[:, 2] == 0, 2e-3, 0.0))
    starts = np.where(np.r_[True, ends[1:, 0] != ends[:-1, 0]], 0, np.r_[0, ends[:-1, 1]])
    fitted = NelsonAalenFitter(nelson_aalen_smoothing=False).fit(ends[:, 1], ends[:, 2], entry=starts)
    hazard, expected = fitted.cumulative_hazard_.iloc[:, 0], found["expected"]
    mean = [hazard[hazard.index <= day + 0.5].iloc[-1] for day in expected["time"]]
    assert mean == pytest.approx(np.array(expected["mcf"]), abs=1e-9)


def test_claim_rates_by_age_and_what_is_still_to_come_by_statsmodels() -> None:
    import statsmodels.api as sm

    found = case("l_open_warranty_rate")
    sold, claims = found["data"]["sold"], [np.atleast_1d(c) for c in found["data"]["claims"]]
    expected = found["expected"]
    cells = [(n, age, count) for n, row in zip(sold, claims, strict=True) for age, count in enumerate(row)]
    exposure, age, count = np.array(cells).T
    design = np.eye(age.max() + 1)[age]
    fitted = sm.GLM(count, design, family=sm.families.Poisson(), offset=np.log(exposure)).fit(tol=1e-14)
    rates = np.exp(fitted.params)
    assert rates == pytest.approx(np.array(expected["rate"]), abs=1e-9)
    errors = np.sqrt(np.cumsum(np.diag(fitted.cov_params()) * rates**2))
    assert errors == pytest.approx(np.array(expected["se_cum_rate"]), abs=1e-7)
    remaining = sum(n * rates[len(row) :].sum() for n, row in zip(sold, claims, strict=True))
    assert remaining == pytest.approx(expected["forecast_remaining_total"], abs=1e-7)
