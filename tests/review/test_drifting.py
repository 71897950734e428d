"""Work that slips is noticed, chance and bad lots are not held against people."""

from dataclasses import dataclass, replace

import numpy as np

from shopwarranty.analysis.groups import whole_of
from shopwarranty.analysis.questions import Question
from shopwarranty.review.asking import Asked
from shopwarranty.review.columns import BoolArray, IntArray
from shopwarranty.review.drifting import DriftOf, drifts
from tests.bench.simulator import Scenario, Simulated, simulate

CALM = Scenario(
    vehicles=300,
    first_year=0.06,
    heat_ratio=1.0,
    cold_ratio=1.0,
    installer_ratios=(1.0, 1.0, 1.0),
    newest_lot_ratio=1.0,
)


@dataclass(frozen=True, slots=True)
class Shop:
    made: Simulated
    starts: IntArray

    def drifts(self, bad_lots: BoolArray | None = None) -> dict[str, DriftOf]:
        lives = self.made.lives
        question = Question(lives, self.made.named("panel", "place", "installer"), ("installer",))
        asked = Asked(np.arange(len(lives)), question, {}, ())
        whole = whole_of(lives, self.made.named("panel", "place"))
        left_out = np.zeros(len(lives), dtype=bool) if bad_lots is None else bad_lots
        return {d.level: d for d in drifts(asked, whole, self.starts, left_out, seed=1)}


def shop(seed: int, scenario: Scenario = CALM) -> Shop:
    made = simulate(scenario, np.random.default_rng(seed))
    return Shop(made, starts_of(made))


def starts_of(made: Simulated) -> IntArray:
    ages = made.record.age_today
    of_lives = ages if len(ages) == len(made.record.cluster) else ages[made.record.cluster]
    return np.asarray(740_000 - of_lives)


def test_a_shop_in_which_nothing_changes_seldom_signals() -> None:
    signals = [d.signal is not None for seed in range(15) for d in shop(seed).drifts().values()]
    assert len(signals) == 60, "the whole and three installers each"
    assert sum(signals) <= 5


def test_failures_that_multiply_are_noticed_on_a_day_after_they_began() -> None:
    worse = (1.0, 1.0, 1.0, 5.0, 5.0, 5.0)
    made = shop(3, replace(CALM, lot_ratios=worse))
    found = made.drifts()[""]
    assert found.signal is not None
    began = int(np.median(made.starts))
    assert found.signal.toordinal() >= began - 60
    assert found.vehicles == len(found.path) == len(found.days)
    assert list(found.days) == sorted(found.days)


def test_what_a_bad_lot_explains_is_not_held_against_whoever_laid_it() -> None:
    worse = (1.0, 1.0, 1.0, 1.0, 12.0, 1.0)
    made = shop(4, replace(CALM, lot_ratios=worse))
    assert made.drifts()[""].signal is not None
    assert made.drifts(np.asarray(made.made.lot == 4))[""].signal is None


def test_too_few_vehicles_make_no_stream() -> None:
    assert shop(5, replace(CALM, vehicles=20)).drifts() == {}
