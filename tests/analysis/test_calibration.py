"""Small seeded rounds of the long calibration: enough to catch a broken method, not to certify one."""

from dataclasses import replace

import numpy as np
import pytest

from tests.bench.calibration import (
    coverage,
    curve_coverage,
    doubling,
    idle_reviews,
    lot_watch,
    ranking,
    truth,
)
from tests.bench.simulator import Scenario, simulate
from tests.bench.tally import Tally, tally

SEED = 20261125
PLAIN = Scenario(
    vehicles=200, heat_ratio=1.0, cold_ratio=1.0, installer_ratios=(1.0, 1.0, 1.0), newest_lot_ratio=1.0
)


def near(found: Tally, low: float, high: float = 1.0) -> bool:
    return found.mean + 3.3 * found.error >= low and found.mean - 3.3 * found.error <= high


@pytest.mark.parametrize("baseline", ["early", "rising", "bathtub"])
def test_intervals_hold_the_population_ratio_in_about_95_of_100(baseline: str) -> None:
    scenario = Scenario(vehicles=200, baseline=baseline, idle=2)
    known = truth(replace(scenario, vehicles=0), SEED, shops=2, vehicles=8000)
    found = coverage(scenario, runs=40, seed=SEED, known=known)
    assert near(found.pooled, 0.93, 0.975), found
    for kind, share in found.by_kind.items():
        assert near(share, 0.90, 0.99), (kind, share)


def test_intervals_that_ignore_vehicles_would_be_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    """With only the model's error a job-level factor is covered far too rarely: the bench notices."""
    monkeypatch.setattr(
        "shopwarranty.analysis.sandwich.Errors.se", property(lambda spread: spread.model), raising=True
    )
    scenario = Scenario(vehicles=200, baseline="early", idle=2, vehicle_sd=1.2, panel_sd=0.7)
    known = truth(replace(scenario, vehicles=0), SEED, shops=2, vehicles=8000)
    found = coverage(scenario, runs=40, seed=SEED, known=known)
    assert found.by_kind["job"].mean < 0.90


def test_intervals_of_the_share_failed_hold_the_truth() -> None:
    found = curve_coverage(Scenario(vehicles=200, baseline="early"), (16, 95, 370), runs=40, seed=SEED)
    for day, share in found.by_day.items():
        assert near(share, 0.93, 0.99), (day, share)
        assert found.over_truth[day] == pytest.approx(1.0, abs=0.15)


def test_callbacks_leave_what_planned_checks_saw_untouched() -> None:
    quiet, busy = (
        simulate(Scenario(vehicles=60, callbacks=share), np.random.default_rng(3)) for share in (0.0, 0.35)
    )
    assert quiet.lives.found.sum() > 0
    without, with_them = busy.record.lives(), busy.record.lives(callbacks=True)
    assert with_them.found.sum() > without.found.sum()
    assert quiet.lives.found.sum() == pytest.approx(without.found.sum(), rel=0.25)


def test_reviews_of_idle_factors_claim_next_to_nothing() -> None:
    found = idle_reviews(replace(PLAIN, idle=30), runs=30, seed=SEED)
    assert near(found.claimed, 0.0, 0.05), found
    assert found.contrasts == 30


def test_a_doubling_with_plenty_watched_is_called() -> None:
    scenario = replace(PLAIN, vehicles=450, heat_ratio=2.0, idle=10)
    found = doubling(scenario, "heated", runs=12, seed=SEED)
    assert found.times_needed < 1
    assert near(found.called, 0.8), found


def test_the_chance_to_be_among_the_worst_three_is_what_happens() -> None:
    scenario = replace(PLAIN, vehicles=400, panels=12, panel_log_sd=0.45)
    found = ranking(scenario, runs=30, seed=SEED)
    assert found.largest_gap <= 0.03, found
    assert near(found.interval_covers, 0.92, 0.98), found
    assert near(found.worst_in_first_three, 0.85), found


def test_idle_lots_stay_silent_and_a_threefold_one_is_called() -> None:
    scenario = replace(PLAIN, vehicles=300, first_year=0.018, lots=10)
    found = lot_watch(scenario, shops=6, seed=SEED)
    assert found.false_alarms_a_lot < 0.12
    assert found.threefold_by_today.mean >= 0.5


def test_answers_of_one_run_are_not_counted_as_independent() -> None:
    alike = tally([[True] * 10, [False] * 10] * 20)
    mixed = tally([[True, False] * 5] * 40)
    assert alike.mean == mixed.mean == 0.5
    assert alike.error == pytest.approx(np.sqrt(0.25 / 40))
    assert mixed.error < 0.002
    assert Tally(0.93, 0.01, 100).reaches(0.95, 1.0)
    assert not Tally(0.90, 0.01, 100).reaches(0.95, 1.0)
