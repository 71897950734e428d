"""One factor at a time beside a fixed set: what is found, what it rests on, and how sure it is."""

import numpy as np
import pytest
from scipy.stats import f as fisher
from scipy.stats import t as student

from shopwarranty.analysis.arrays import IntArray
from shopwarranty.analysis.bands import CHECK_BANDS, Bands, bands_for
from shopwarranty.analysis.effects import (
    MOST_LEVELS,
    Ground,
    contrasts,
    directions_of,
    fitted_with,
    joint_p,
    pooled_rare_levels,
    prepare,
)
from shopwarranty.analysis.exposure import Lives, lives_of
from shopwarranty.analysis.patterns import Factor, packed_by
from shopwarranty.analysis.sandwich import errors

from .worlds import seen_at_checks


def confounded(seed: int, vehicles: int = 400) -> tuple[Lives, list[Factor]]:
    """Installers at 1, 1.5 and 2 times the hazard heat 90, 70 and 50 % of edges; heat does nothing."""
    rng = np.random.default_rng(seed)
    cluster = np.repeat(np.arange(vehicles), 15)
    installer = rng.integers(0, 3, vehicles)[cluster]
    heated = (rng.random(len(cluster)) < np.array([0.9, 0.7, 0.5])[installer]).astype(int)
    hazard = 2e-4 * np.array([1, 1.5, 2])[installer]
    lives = seen_at_checks(rng.exponential(1 / hazard), cluster, rng)
    watched = lives.watched
    factors = [Factor("installer", installer, ("A", "B", "C")), Factor("heated", heated, ("no", "yes"), 1)]
    return lives.only(watched), [f.only(watched) for f in factors]


def ground_of(lives: Lives, adjustment: list[Factor]) -> Ground:
    return prepare(lives, adjustment, CHECK_BANDS)


def test_what_the_installer_does_is_not_blamed_on_the_heat() -> None:
    """Beside the installer the ratio is 1; alone it is well above (simulated elsewhere: 1.27)."""
    beside, alone = [], []
    for seed in range(6):
        lives, (installer, heated) = confounded(seed)
        beside.append(contrasts(ground_of(lives, [installer]), heated)[0].log_ratio)
        alone.append(contrasts(ground_of(lives, []), heated)[0].log_ratio)
    assert np.exp(np.mean(beside)) == pytest.approx(1.0, abs=0.07)
    assert np.exp(np.mean(alone)) > 1.15


def test_a_contrast_counts_what_it_rests_on() -> None:
    lives, (installer, heated) = confounded(1)
    contrast = contrasts(ground_of(lives, [installer]), heated)[0]
    cold = heated.codes == 0
    assert (contrast.factor, contrast.level, contrast.reference) == ("heated", "no", "yes")
    assert (contrast.edges, contrast.reference_edges) == (cold.sum(), (~cold).sum())
    assert contrast.failures == lives.found[cold].sum()
    assert contrast.failed_vehicles == len(set(lives.cluster[cold & lives.found]))
    assert contrast.expected + contrast.reference_expected == pytest.approx(lives.found.sum(), rel=1e-9)


def test_interval_and_p_come_from_students_t() -> None:
    lives, (installer, heated) = confounded(2)
    contrast = contrasts(ground_of(lives, [installer]), heated)[0]
    half = student.ppf(0.975, contrast.df) * contrast.se
    assert np.log(contrast.interval()) == pytest.approx(
        [contrast.log_ratio - half, contrast.log_ratio + half], abs=1e-9
    )
    assert contrast.p == pytest.approx(
        2 * student.sf(abs(contrast.log_ratio) / contrast.se, contrast.df), rel=1e-9
    )


def test_starting_from_the_base_fit_ends_where_a_fresh_fit_does() -> None:
    lives, (installer, heated) = confounded(3)
    ground = ground_of(lives, [installer])
    resumed = fitted_with(ground, [heated])[1]
    from shopwarranty.analysis.hazard import fit

    fresh = fit(packed_by(ground.looks, [installer, heated]).packed)
    np.testing.assert_allclose(resumed.theta, fresh.theta, atol=1e-8)


def test_a_factor_of_the_adjustment_set_is_fitted_beside_the_rest_once() -> None:
    lives, (installer, heated) = confounded(4)
    one = contrasts(ground_of(lives, [installer, heated]), installer)
    other = contrasts(ground_of(lives, [heated]), installer)
    assert [c.log_ratio for c in one] == pytest.approx([c.log_ratio for c in other], abs=1e-8)
    assert [c.level for c in one] == ["B", "C"]


def test_what_was_not_recorded_is_neither_compared_nor_read_as_no() -> None:
    lives, (installer, heated) = confounded(5)
    codes = np.where(np.arange(len(lives)) % 4 == 0, 2, heated.codes)
    gaps = Factor("heated", codes, ("no", "yes", "not recorded"), 1)
    found = contrasts(ground_of(lives, [installer]), gaps, frozenset({"not recorded"}))
    assert [c.level for c in found] == ["no"]
    assert found[0].edges == (codes == 0).sum()


def test_names_and_order_of_levels_do_not_matter() -> None:
    lives, (installer, heated) = confounded(6)
    turned = Factor("heated", 1 - heated.codes, ("yes", "no"), 0)
    one = contrasts(ground_of(lives, [installer]), heated)[0]
    other = contrasts(ground_of(lives, [installer]), turned)[0]
    assert one.log_ratio == pytest.approx(other.log_ratio, abs=1e-9)
    assert one.se == pytest.approx(other.se, abs=1e-9)


def test_a_single_questions_joint_test_is_its_own_two_sided_p() -> None:
    lives, (installer, heated) = confounded(7)
    ground = ground_of(lives, [installer])
    contrast = contrasts(ground, heated)[0]
    assert joint_p(ground, [heated]) == pytest.approx(contrast.p, rel=1e-6)


def test_a_level_that_none_of_the_watched_places_has_does_not_upset_the_joint_test() -> None:
    lives, (installer, heated) = confounded(7)
    ground = ground_of(lives, [installer])
    with_empty = Factor("heated", heated.codes, (*heated.levels, "never so"), heated.reference)
    assert 0 <= joint_p(ground, [with_empty]) <= 1


def test_the_joint_test_of_a_pair_is_walds_f() -> None:
    lives, (installer, heated) = confounded(8)
    ground = ground_of(lives, [])
    patterned, found = fitted_with(ground, [installer, heated])
    columns = [("installer", 1), ("installer", 2), ("heated", 0)]
    spread = errors(ground.looks, patterned, found, ground.vehicles, directions_of(patterned, columns))
    covariance = spread.influence.T @ spread.influence
    widen = spread.se / spread.by_vehicle
    covariance = covariance * widen[:, None] * widen
    wald = found.log_ratio @ np.linalg.solve(covariance, found.log_ratio) / 3
    assert joint_p(ground, [installer, heated]) == pytest.approx(
        fisher.sf(wald, 3, spread.df.min()), rel=1e-6
    )


def test_a_level_nobody_watched_says_nothing() -> None:
    lives, (installer, heated) = confounded(9)
    wider = Factor("heated", heated.codes, ("no", "yes", "twice"), 1)
    twice = contrasts(ground_of(lives, [installer]), wider)[1]
    assert (twice.edges, twice.failures, twice.expected) == (0, 0, 0.0)
    assert twice.p == pytest.approx(1.0, abs=1e-6)


def test_the_rarest_levels_of_a_long_factor_are_adjusted_for_together() -> None:
    codes: IntArray = np.repeat(np.arange(40), np.arange(40, 0, -1))
    pooled = pooled_rare_levels(Factor("panel", codes, tuple(f"p{k}" for k in range(40))))
    assert len(pooled.levels) == MOST_LEVELS
    assert pooled.levels[-1] == "others"
    assert (pooled.codes == MOST_LEVELS - 1).sum() == np.arange(21, 0, -1).sum()
    short = Factor("x", np.array([0, 1]), ("a", "b"))
    assert pooled_rare_levels(short) is short


def test_places_nobody_looked_at_are_refused() -> None:
    with pytest.raises(ValueError, match="nobody looked"):
        ground_of(lives_of([0, 0], [-1, -1], [14, -1], [1, 2]), [])


def test_bands_follow_the_looks_only_when_they_are_not_at_the_usual_checks() -> None:
    usual = lives_of([0] * 4, [13, 88, 370, 700], [-1, -1, -1, 800], [1, 2, 3, 4])
    assert bands_for(usual) == CHECK_BANDS
    monthly = lives_of([0] * 9, [30] * 3 + [45] * 3 + [200] * 3, [-1] * 9, list(range(9)))
    assert bands_for(monthly) == Bands((118,))
    none = lives_of([0], [-1], [-1], [1])
    assert bands_for(none) == CHECK_BANDS
