"""A method changed on a date: worked values, and shops in which it helped, did nothing, or came too late."""

from dataclasses import replace

import numpy as np
import pytest

from shopwarranty.analysis.arrays import BoolArray, FloatArray, IntArray
from shopwarranty.analysis.before_after import Told, before_after
from shopwarranty.analysis.effects import contrasts, prepare
from shopwarranty.analysis.exposure import NEVER, Lives, lives_of
from shopwarranty.analysis.patterns import Factor
from tests.analysis.worlds import seen_at_checks

CHANGED_ON = 739_000


def world(ratio_of: FloatArray, seed: int = 1, places: int = 12) -> tuple[Lives, IntArray]:
    """Vehicles laid evenly over two years up to a year past the change, one hazard ratio each."""
    rng = np.random.default_rng(seed)
    vehicles = len(ratio_of)
    start = np.linspace(CHANGED_ON - 500, CHANGED_ON + 300, vehicles).astype(np.int64)
    cluster = np.repeat(np.arange(vehicles), places)
    failed_at = rng.exponential(1 / (4e-4 * ratio_of)[:, None], (vehicles, places))
    age = (CHANGED_ON + 380 - start)[cluster]
    return seen_at_checks(failed_at.ravel(), cluster, rng, age=age), start[cluster]


def since(vehicles: int) -> BoolArray:
    laid = np.linspace(CHANGED_ON - 500, CHANGED_ON + 300, vehicles).astype(np.int64)
    return np.asarray(laid >= CHANGED_ON)


def test_one_look_each_gives_the_ratio_of_log_shares_clean() -> None:
    """All seen once on day 14: the hazard ratio is log(1 - p1) / log(1 - p0), a textbook closed form."""
    size, before_failed, since_failed = 20_000, 800, 400
    failed = np.full(2 * size, NEVER)
    failed[:before_failed] = 14
    failed[size : size + since_failed] = 14
    clean = np.where(failed == NEVER, 14, NEVER)
    starts = np.repeat([CHANGED_ON - 1, CHANGED_ON], size)
    lives = lives_of(np.zeros(2 * size, dtype=int), clean, failed, np.arange(2 * size))
    found = before_after(lives, starts, CHANGED_ON)
    assert found.change is not None
    assert found.change.ratio == pytest.approx(np.log1p(-0.02) / np.log1p(-0.04), rel=2e-3)
    assert found.edge_days == (14 * 19_200 + 7 * 800, 14 * 19_600 + 7 * 400)
    assert found.oldest == (14, 14)
    assert found.moving is None, "everything before started on one day"
    assert found.told is Told.FEWER


def test_a_change_that_halves_is_called_although_what_was_laid_since_is_young() -> None:
    lives, starts = world(np.where(since(400), 0.4, 1.0))
    found = before_after(lives, starts, CHANGED_ON)
    assert found.told is Told.FEWER
    assert found.change is not None
    assert found.change.level == "since"
    assert found.change.interval()[0] < 0.4 < found.change.interval()[1]
    assert found.oldest[1] < found.oldest[0]


def test_without_a_change_young_age_alone_is_no_praise() -> None:
    """Plain shares failed would say a third; at equal ages nothing is called in most shops."""
    told, shares = [], []
    for seed in range(20):
        lives, starts = world(np.ones(200), seed)
        told.append(before_after(lives, starts, CHANGED_ON).told)
        new = starts >= CHANGED_ON
        shares.append(lives.found[new].mean() / lives.found[~new].mean())
    assert np.mean(shares) < 0.75
    assert sum(t in (Told.FEWER, Told.MORE) for t in told) <= 3


def test_failures_already_falling_before_the_day_are_not_credited_to_it() -> None:
    lives, starts = world(np.geomspace(4.0, 0.25, 500))
    found = before_after(lives, starts, CHANGED_ON)
    assert found.told is Told.ALREADY_MOVING
    assert found.moving is not None and found.moving.ratio < 1
    assert (found.moving.level, found.moving.reference) == ("later", "earlier")


def test_what_else_differs_is_held_equal() -> None:
    """The change came with easier panels: alone it looks good, beside the panel it does nothing."""
    rng = np.random.default_rng(5)
    easy = rng.random(600) < np.where(since(600), 0.9, 0.2)
    lives, starts = world(np.where(easy, 0.3, 1.0), seed=5)
    panel = Factor("panel", np.repeat(easy, 12).astype(np.int64), ("hard", "easy"))
    alone = before_after(lives, starts, CHANGED_ON).change
    beside = before_after(lives, starts, CHANGED_ON, [panel]).change
    assert alone is not None and beside is not None
    assert alone.ratio < 0.65
    assert beside.interval()[0] < 1 < beside.interval()[1]


def test_the_same_fit_as_any_other_comparison() -> None:
    lives, starts = world(np.where(since(100), 0.5, 1.0))
    seen = lives.only(lives.watched)
    codes = (starts[lives.watched] >= CHANGED_ON).astype(np.int64)
    same = contrasts(prepare(seen, []), Factor("change", codes, ("before", "since")))[0]
    assert before_after(lives, starts, CHANGED_ON).change == replace(same, factor="change")


def test_only_what_was_laid_near_the_day_counts_when_asked() -> None:
    lives, starts = world(np.ones(200))
    near = np.abs(starts - CHANGED_ON + 0.5) < 90
    found = before_after(lives, starts, CHANGED_ON, within=90)
    alone = before_after(lives.only(near), starts[near], CHANGED_ON)
    assert found == alone
    assert found.change is not None and found.change.edges < 200 * 12


def test_too_little_is_not_told_and_one_side_alone_compares_nothing() -> None:
    lives, starts = world(np.ones(6))
    assert before_after(lives, starts, CHANGED_ON).told is Told.NOT_YET
    one_sided = before_after(lives, starts, CHANGED_ON + 10_000)
    assert one_sided.change is None and one_sided.told is Told.NOT_YET


def test_what_cannot_be_asked_is_refused() -> None:
    lives, starts = world(np.ones(6))
    with pytest.raises(ValueError, match="length"):
        before_after(lives, starts[:-1], CHANGED_ON)
    with pytest.raises(ValueError, match="either side"):
        before_after(lives, starts, CHANGED_ON, within=0)
