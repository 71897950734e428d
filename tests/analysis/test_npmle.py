"""The steps that assume nothing, against published tables, Kaplan-Meier and brute force."""

import itertools
from typing import Any

import numpy as np
import pytest

from shopwarranty.analysis.exposure import NEVER, lives_of
from shopwarranty.analysis.npmle import LateEntry, Mass, log_likelihood, masses, turnbull

from .reference import case
from .worlds import constant_world


def cosmesis(arm: str) -> tuple[Any, Any, Any]:
    rows = case("e_open_bcos_turnbull")["data"]
    group = np.array(rows["radchem"])
    chosen = {"rad": group == 0, "radchem": group == 1, "pooled": group >= 0}[arm]
    left = np.array(rows["left"], dtype=float)[chosen]
    right = np.array([np.inf if r is None else r for r in rows["right"]], dtype=float)[chosen]
    return left, right, np.ones(len(left))


@pytest.mark.parametrize("arm", ["rad", "radchem", "pooled"])
def test_the_breast_cosmesis_masses_are_those_of_turnbulls_method(arm: str) -> None:
    expected = case("e_open_bcos_turnbull")["expected"]["full_precision"][arm]
    left, right, weight = cosmesis(arm)
    found = masses(left, right, weight)
    ends = [np.inf if r is None else r for r in expected["right"]]
    until = [np.inf if m.until is None else m.until for m in found]
    assert [m.after for m in found] == expected["left"]
    assert until == ends
    assert [m.mass for m in found] == pytest.approx(expected["p"], abs=1e-6)
    assert log_likelihood(found, left, right, weight) == pytest.approx(expected["loglik"], abs=1e-6)


@pytest.mark.parametrize("arm", ["rad", "radchem"])
def test_the_published_four_digits_of_fay_and_shaw_come_out(arm: str) -> None:
    published = case("e_open_bcos_turnbull")["expected"]["published"][arm]
    found = masses(*cosmesis(arm))
    assert [m.mass for m in found] == pytest.approx([row[2] for row in published], abs=6e-5)


def test_nelsons_cracks_are_counts_over_parts() -> None:
    rows, expected = (case("e_open_cracks_weibull")[k] for k in ("data", "expected"))
    right = np.array([np.inf if r is None else r for r in rows["R"]], dtype=float)
    found = masses(np.array(rows["L"], dtype=float), right, np.array(rows["w"], dtype=float))
    assert [m.mass for m in found] == pytest.approx(expected["turnbull"]["p"], abs=1e-6)


def surviving(found: tuple[Mass, ...], day: float) -> float:
    return 1 - sum(m.mass for m in found if m.until is not None and m.until <= day)


def test_failures_found_within_a_day_give_kaplan_and_meiers_curve() -> None:
    """Failing in (t - 1, t] with nothing else inside is failing at t."""
    ten = case("kaplan_meier_ten_edges")
    days, failed = np.array(ten["data"]["day"]), np.array(ten["data"]["failed"])
    lives = lives_of(
        np.zeros(10, int), np.where(failed, days - 1, days), np.where(failed, days, NEVER), np.arange(10)
    )
    found = turnbull(lives)
    for day, expected in zip(ten["expected"]["day"], ten["expected"]["surviving"], strict=True):
        assert surviving(found, day) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(("group", "key"), [("6-MP", "km_6mp"), ("control", "km_control")])
def test_the_leukaemia_remissions_give_the_published_curve(group: str, key: str) -> None:
    trial = case("d_open_6mp_km")
    chosen = np.array(trial["data"]["group"]) == group
    time, event = (np.array(trial["data"][k])[chosen] for k in ("time", "event"))
    left, right = np.where(event, time - 1, time), np.where(event, time, np.inf)
    found = masses(left.astype(float), right, np.ones(len(left)))
    for day, expected in zip(trial["expected"][key]["time"], trial["expected"][key]["surv"], strict=True):
        assert surviving(found, day) == pytest.approx(expected, abs=1e-9)


def test_no_other_split_of_the_mass_is_more_likely() -> None:
    """Brute force: every way to share twentieths among the intersections of a tiny case."""
    left = np.array([0.0, 2.0, 4.0, 0.0, 3.0, 6.0])
    right = np.array([3.0, 5.0, 8.0, 5.0, np.inf, np.inf])
    weight = np.array([1.0, 2.0, 1.0, 1.0, 2.0, 1.0])
    found = masses(left, right, weight)
    best = log_likelihood(found, left, right, weight)
    cells = [(2.0, 3.0), (4.0, 5.0), (6.0, 8.0)]
    for share in itertools.product(range(21), repeat=len(cells)):
        if sum(share) == 20 and all(share):
            split = tuple(Mass(a, b, s / 20) for (a, b), s in zip(cells, share, strict=True))
            with np.errstate(divide="ignore"):
                assert log_likelihood(split, left, right, weight) <= best + 1e-9


def test_masses_sum_to_one_and_do_not_depend_on_order() -> None:
    lives = constant_world(31, rate=5e-4)
    order = np.random.default_rng(2).permutation(len(lives))
    one, other = turnbull(lives), turnbull(lives.only(order))
    assert sum(m.mass for m in one) == pytest.approx(1.0, abs=1e-6)
    assert [(m.after, m.until) for m in one] == [(m.after, m.until) for m in other]
    assert [m.mass for m in one] == pytest.approx([m.mass for m in other], abs=1e-9)


def test_weights_count_rows() -> None:
    left, right = np.array([0.0, 5.0, 9.0]), np.array([7.0, 12.0, np.inf])
    counted = masses(left, right, np.array([2.0, 3.0, 4.0]))
    written_out = masses(np.repeat(left, [2, 3, 4]), np.repeat(right, [2, 3, 4]), np.ones(9))
    assert [m.mass for m in counted] == pytest.approx([m.mass for m in written_out], abs=1e-9)


def test_late_entry_is_refused_and_no_rows_give_no_masses() -> None:
    with pytest.raises(LateEntry):
        turnbull(lives_of([0, 20], [14, 90], [NEVER, NEVER], [1, 2]))
    empty = np.array([], dtype=np.int64)
    assert turnbull(lives_of(empty, empty, empty, empty)) == ()


def test_when_nothing_failed_all_mass_lies_beyond_the_oldest_look() -> None:
    assert turnbull(lives_of([0, 0], [14, 90], [NEVER, NEVER], [1, 2])) == (Mass(90.0, None, 1.0),)


def test_an_interval_that_ends_before_it_begins_is_refused() -> None:
    with pytest.raises(ValueError, match="ends no later"):
        masses(np.array([5.0]), np.array([5.0]), np.ones(1))
