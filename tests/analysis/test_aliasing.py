"""Factors that moved together: what is left of one beside the other."""

import numpy as np
import pytest

from shopwarranty.analysis.aliasing import (
    Tangle,
    beside,
    discordant_failures,
    information_of,
    kept_share,
    tangles,
)
from shopwarranty.analysis.bands import CHECK_BANDS
from shopwarranty.analysis.effects import Ground, contrasts, fitted_with, prepare
from shopwarranty.analysis.patterns import Factor
from shopwarranty.analysis.sandwich import errors

from .worlds import seen_at_checks


def found_tangles(
    ground: Ground, factor: Factor, others: list[Factor], system: frozenset[str] = frozenset()
) -> tuple[Tangle, ...]:
    information = information_of(ground, [factor, *others])
    return tangles(ground, information, beside(information, []), factor, 1, others, system)


def pair(seed: int, disagree: float, vehicles: int = 500) -> tuple[Ground, Factor, Factor]:
    """A doubles the hazard; B is A turned round on a share of vehicles."""
    rng = np.random.default_rng(seed)
    cluster = np.repeat(np.arange(vehicles), 12)
    a = rng.random(vehicles) < 0.4
    b = np.where(rng.random(vehicles) < disagree, ~a, a)
    lives = seen_at_checks(rng.exponential(1 / (2e-4 * (1 + a[cluster]))), cluster, rng)
    kept = lives.watched
    factors = [
        Factor(name, values[cluster][kept].astype(int), ("no", "yes"))
        for name, values in (("a", a), ("b", b))
    ]
    return prepare(lives.only(kept), [], CHECK_BANDS), factors[0], factors[1]


def test_kept_is_the_ratio_of_squared_model_errors_without_and_with_the_other() -> None:
    ground, a, b = pair(71, 0.2)
    kept = kept_share(information_of(ground, [a, b]), ("a", 1), "b", [])
    squared = []
    for factors in ([a], [a, b]):
        patterned, found = fitted_with(ground, factors)
        row = np.zeros((1, len(found.theta)))
        row[0, 4] = 1.0
        squared.append(errors(ground.looks, patterned, found, ground.vehicles, row).model[0] ** 2)
    assert kept == pytest.approx(squared[0] / squared[1], rel=0.05)


def test_independent_factors_keep_nearly_all_and_twins_nearly_nothing() -> None:
    ground, a, b = pair(72, 0.5)
    assert kept_share(information_of(ground, [a, b]), ("a", 1), "b", []) > 0.98
    ground, a, b = pair(73, 0.0)
    assert kept_share(information_of(ground, [a, b]), ("a", 1), "b", []) < 0.05


def test_taking_the_adjustment_set_out_first_changes_nothing() -> None:
    ground, a, b = pair(70, 0.2)
    panel = Factor("panel", np.arange(len(ground.lives)) % 5, tuple("pqrst"))
    information = information_of(ground, [panel, a, b])
    direct = kept_share(information, ("a", 1), "b", ["panel"])
    assert kept_share(beside(information, ["panel"]), ("a", 1), "b") == pytest.approx(direct, rel=1e-9)


def test_discordant_failures_are_those_of_the_rarer_disagreement() -> None:
    ground, a, b = pair(74, 0.1)
    found, x, y = ground.lives.found, a.codes, b.codes
    counted = min((found & (x == 1) & (y == 0)).sum(), (found & (x == 0) & (y == 1)).sum())
    assert discordant_failures(ground, a, 1, b) == counted


@pytest.mark.parametrize(("disagree", "cannot"), [(0.5, False), (0.02, True)])
def test_only_a_tangled_pair_cannot_be_told_apart(disagree: float, cannot: bool) -> None:
    ground, a, b = pair(75, disagree)
    found = found_tangles(ground, a, [b])
    assert found[0].cannot_tell is cannot
    assert found[0].other == "b"


def test_pairs_the_record_fills_in_by_itself_are_trusted_further() -> None:
    ground, a, b = pair(76, 0.15)
    by_hand = found_tangles(ground, a, [b])[0]
    by_system = found_tangles(ground, a, [b], frozenset({"a", "b"}))[0]
    assert 0.4 < by_hand.kept < 0.7
    assert (by_hand.cannot_tell, by_system.cannot_tell) == (True, False)


def test_a_factor_that_never_varies_within_installers_is_tangled_with_them() -> None:
    ground, _, _ = pair(77, 0.5)
    installer = Factor("installer", ground.lives.cluster % 4, ("A", "B", "C", "D"))
    habit = Factor("habit", (installer.codes < 2).astype(int), ("no", "yes"))
    found = found_tangles(ground, habit, [installer])[0]
    assert found.cannot_tell
    assert found.discordant == 0


def test_a_rare_level_is_not_called_tangled_only_because_it_is_rare() -> None:
    ground, _, b = pair(78, 0.5)
    rare = Factor("rare", (ground.lives.cluster % 40 == 0).astype(int), ("no", "yes"))
    assert contrasts(ground, rare)[0].failures < 40
    assert not found_tangles(ground, rare, [b])[0].cannot_tell


def test_the_share_is_the_same_from_a_choice_of_whole_vehicles(monkeypatch: pytest.MonkeyPatch) -> None:
    ground, a, b = pair(79, 0.2)
    full = kept_share(information_of(ground, [a, b]), ("a", 1), "b", [])
    monkeypatch.setattr("shopwarranty.analysis.aliasing.LIVES_LOOKED_AT", 2000)
    assert kept_share(information_of(ground, [a, b]), ("a", 1), "b", []) == pytest.approx(full, abs=0.12)


def test_moving_together_is_said_below_nine_tenths() -> None:
    assert Tangle("a", "yes", "b", 0.89, 50, False).moves_with
    assert not Tangle("a", "yes", "b", 0.91, 50, False).moves_with
