"""Lots: the negative binomial tail, its power, and how often an idle lot is called."""

import numpy as np
import pytest
from scipy.stats import nbinom, poisson

from shopwarranty.analysis.lots import (
    ALERT_AT,
    ALERT_AT_MANY,
    USUAL_SPREAD,
    alert_line,
    first_alerting,
    lot_figure,
    lots,
    mid_p,
    power,
    vehicle_spread,
)


@pytest.mark.parametrize(
    ("observed", "mean", "dispersion"), [(0, 0.4, 0.02), (5, 2.0, 0.015), (30, 12.0, 0.3)]
)
def test_the_tail_is_scipys_negative_binomial(observed: int, mean: float, dispersion: float) -> None:
    theirs = nbinom(1 / dispersion, 1 / (1 + dispersion * mean))
    expected = theirs.sf(observed) + theirs.pmf(observed) / 2
    assert mid_p(observed, mean, dispersion) == pytest.approx(expected, rel=1e-10)


def test_without_extra_scatter_it_is_poissons_tail() -> None:
    expected = poisson.sf(6, 2.5) + poisson.pmf(6, 2.5) / 2
    assert mid_p(6, 2.5, 0.0) == pytest.approx(expected, rel=1e-12)
    assert mid_p(6, 2.5, 1e-8) == pytest.approx(expected, rel=1e-6)


def test_an_alert_needs_both_a_small_p_and_three_failures() -> None:
    assert not lot_figure(2, 0.01, 30, 0.45).alert
    assert lot_figure(3, 0.1, 30, 0.45).alert
    assert not lot_figure(4, 2.0, 30, 0.45).alert


def test_a_lot_nobody_has_checked_says_nothing_and_notices_nothing() -> None:
    silent = lot_figure(0, 0.0, 0, 0.45)
    assert (silent.p, silent.alert, silent.would_notice_threefold) == (1.0, False, 0.0)


def test_the_power_is_the_chance_to_reach_the_first_alerting_count() -> None:
    expected, dispersion = 4.0, 0.45 / 30
    count = first_alerting(expected, dispersion, ALERT_AT)
    assert mid_p(count, expected, dispersion) < ALERT_AT <= mid_p(count - 1, expected, dispersion)
    three = nbinom(1 / dispersion, 1 / (1 + dispersion * 12.0))
    assert power(expected, dispersion, ALERT_AT) == pytest.approx(three.sf(count - 1), rel=1e-10)


def test_six_expected_failures_notice_a_threefold_lot_in_80_per_cent() -> None:
    """Worked out by simulation when the rule was chosen: 6 at p < .003, 7.5 at p < .001."""
    assert power(6.0, USUAL_SPREAD / 30, ALERT_AT) == pytest.approx(0.8, abs=0.13)
    assert power(7.5, USUAL_SPREAD / 30, ALERT_AT_MANY) == pytest.approx(0.8, abs=0.13)
    assert power(1.5, USUAL_SPREAD / 30, ALERT_AT) < 0.4


def test_many_open_lots_are_held_to_a_stricter_line() -> None:
    assert (alert_line(12), alert_line(13)) == (ALERT_AT, ALERT_AT_MANY)


def test_an_idle_lot_crosses_the_line_about_as_often_as_it_says() -> None:
    rng = np.random.default_rng(81)
    ratio = rng.gamma(1 / 0.45, 0.45, (20_000, 30))
    observed = rng.poisson(ratio * 4.0 / 30).sum(axis=1)
    count = first_alerting(4.0, 0.45 / 30, ALERT_AT)
    assert (observed >= count).mean() == pytest.approx(ALERT_AT, abs=0.002)


def test_the_spread_between_vehicles_is_recovered() -> None:
    rng = np.random.default_rng(82)
    expected = rng.uniform(0.2, 1.5, 4000)
    spreads = []
    for _ in range(30):
        observed = rng.poisson(expected * rng.gamma(1 / 0.45, 0.45, 4000)).astype(float)
        spreads.append(vehicle_spread(observed, expected))
    assert np.mean(spreads) == pytest.approx(0.45, abs=0.05)
    assert vehicle_spread(observed[:99], expected[:99]) == USUAL_SPREAD
    assert vehicle_spread(np.round(expected), expected) == 0.0


def test_figures_by_lot_add_up_what_lives_say() -> None:
    codes = np.array([0, 0, 1, 1, -1, 2])
    found = np.array([1.0, 0, 0, 1, 1, 0])
    one, two, three = lots(codes, 3, np.array([0, 0, 0, 1, 1, 2]), found, np.full(6, 0.5))
    assert (one.observed, one.vehicles) == (1, 1)
    assert (two.observed, two.vehicles) == (1, 2)
    assert (three.observed, three.vehicles) == (0, 1)


def test_a_lot_is_not_judged_before_the_others_have_ten_failures() -> None:
    codes, found = np.repeat([0, 1], 50), np.zeros(100)
    found[:20] = 1
    found[50:59] = 1
    first, second = lots(codes, 2, np.arange(100), found, np.full(100, found.mean()))
    assert (first.judged, first.alert, first.p, first.would_notice_threefold) == (False, False, 1.0, 0.0)
    assert second.judged
    found[59] = 1
    assert lots(codes, 2, np.arange(100), found, np.full(100, found.mean()))[0].judged


def test_a_bad_lot_does_not_raise_what_is_expected_of_itself() -> None:
    """Four lots of 100 places, 10 failures each, save the last with 40: it is held against 10."""
    codes = np.repeat(np.arange(4), 100)
    found = np.concatenate([np.arange(100) < n for n in (10, 10, 10, 40)]).astype(float)
    whole = np.full(400, found.mean())
    figures = lots(codes, 4, np.arange(400), found, whole)
    assert figures[3].expected == pytest.approx(10, rel=0.03)
    assert sum(f.alert for f in figures) == 1


def test_lots_no_longer_open_need_not_tighten_the_line() -> None:
    codes, found = np.arange(400) % 20, (np.arange(400) % 7 == 0).astype(float)
    expected = np.full(400, found.mean())
    many, fewer = (lots(codes, 20, np.arange(400), found, expected, open_lots=n)[0] for n in (None, 5))
    assert fewer.would_notice_threefold > many.would_notice_threefold


def test_a_bad_lot_does_not_pass_for_vehicles_that_differ_much() -> None:
    """Ten lots of 30 vehicles, each vehicle with 0.3 expected: the threefold one leaves phi_v alone."""
    rng = np.random.default_rng(83)
    codes = np.repeat(np.arange(10), 30)
    with_bad: list[float] = []
    without: list[float] = []
    for _ in range(40):
        frailty = rng.gamma(1 / 0.45, 0.45, 300)
        for ratio, kept in ((3.0, with_bad), (1.0, without)):
            found = rng.poisson(0.3 * frailty * np.where(codes == 4, ratio, 1.0)).astype(float)
            expected = np.full(300, found.mean())
            figure = lots(codes, 10, np.arange(300), found, expected)[4]
            kept.append(figure.would_notice_threefold)
    assert np.mean(with_bad) == pytest.approx(np.mean(without), abs=0.08)
