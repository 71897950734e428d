import numpy as np
import pytest
from scipy.stats import chi2

from shopwarranty.analysis.expected import expected_failures
from shopwarranty.analysis.exposure import NEVER, edge_days, lives_of
from shopwarranty.analysis.groups import DAYS_A_YEAR, overall, rate_interval, summarise
from shopwarranty.analysis.patterns import Factor

from .worlds import constant_world, seen_at_checks


def test_counts_by_level_are_counts_of_the_lives() -> None:
    lives = constant_world(51, rate=5e-4)
    codes = np.arange(len(lives)) % 3
    for level, figure in enumerate(summarise(lives, codes, ("a", "b", "c"), seed=1)):
        mine = lives.only(codes == level)
        assert figure.edges == mine.watched.sum()
        assert figure.never_seen == (~mine.watched).sum()
        assert figure.failures == mine.found.sum()
        assert figure.edge_days == pytest.approx(edge_days(mine).sum())
        assert figure.rate == pytest.approx(100 * 365.25 * mine.found.sum() / edge_days(mine).sum())
        assert figure.vehicles == len(set(mine.cluster[mine.watched]))


def test_expected_failures_add_up_to_those_found() -> None:
    lives = constant_world(52, rate=5e-4)
    kind = Factor("kind", np.arange(len(lives)) % 4, ("edge", "recess", "seam", "field"))
    for mix in ((), (kind,)):
        assert expected_failures(lives, mix).sum() == pytest.approx(lives.found.sum(), rel=1e-9)
    figures = summarise(lives, lives.cluster % 2, ("a", "b"), seed=1)
    assert sum(f.expected or 0 for f in figures) == pytest.approx(lives.found.sum(), rel=1e-9)


def test_young_groups_are_not_blamed_for_being_young() -> None:
    """One hazard for all, early failures; the mean ratio of the youngest and oldest stays near 1."""
    rng = np.random.default_rng(53)
    cluster = np.repeat(np.arange(300), 20)
    young = cluster >= 250
    found = expected = middle = 0.0
    for _ in range(40):
        failed_at = rng.weibull(0.6, len(cluster)) * 6_000
        lives = seen_at_checks(failed_at, cluster, rng, age=np.where(young, 20, 730))
        found += lives.found[young].sum()
        expected += expected_failures(lives)[young].sum()
        middle += edge_days(lives)[young].sum() * lives.found.sum() / edge_days(lives).sum()
    assert found / expected == pytest.approx(1.0, abs=0.1)
    assert found / middle > 2  # what counting at the middle of intervals would have said


def test_a_panel_is_held_against_its_own_mix_of_places() -> None:
    """Recesses fail five times as often; the panel that has most of them is no worse than the rest."""
    rng = np.random.default_rng(54)
    cluster = np.repeat(np.arange(600), 20)
    panel = np.tile(np.repeat([0, 1], 10), 600)
    recess = np.tile(np.r_[np.ones(8), np.zeros(2), np.ones(2), np.zeros(8)].astype(int), 600)
    lives = seen_at_checks(rng.exponential(np.where(recess, 3000, 15000)), cluster, rng)
    mix = [Factor("kind", recess, ("edge", "recess"))]
    raw = summarise(lives, panel, ("mirror", "roof"), seed=1)
    fair = summarise(lives, panel, ("mirror", "roof"), seed=1, mix=mix)
    assert raw[0].shrunken is not None
    assert fair[0].shrunken is not None
    assert raw[0].shrunken > 1.3
    assert fair[0].shrunken == pytest.approx(1.0, abs=0.12)


def test_rates_have_garwoods_exact_interval() -> None:
    """Garwood (1936): 4 events, 95 % limits 1.09 and 10.24 (as printed in common tables)."""
    one_year = rate_interval(4, 100 * DAYS_A_YEAR)
    assert (one_year.low, one_year.high) == pytest.approx((1.090, 10.242), abs=0.001)
    none = rate_interval(0, 100 * DAYS_A_YEAR)
    assert (none.low, none.high) == pytest.approx((0.0, chi2.ppf(0.975, 2) / 2))
    wider = rate_interval(4, 100 * DAYS_A_YEAR, phi=2)
    assert wider.low < one_year.low < one_year.high < wider.high


def test_what_was_not_recorded_belongs_to_no_level() -> None:
    lives = constant_world(55, rate=5e-4)
    codes = np.where(np.arange(len(lives)) % 2, 0, -1)
    only = summarise(lives, codes, ("yes",), seed=1)[0]
    assert only.edges + only.never_seen == (codes == 0).sum()


def test_an_empty_level_and_a_world_without_failures_say_so_with_none() -> None:
    lives = lives_of([0, 0, 0], [14, 90, NEVER], [NEVER] * 3, [1, 2, 2])
    some, empty = summarise(lives, np.array([0, 0, 0]), ("bonnet", "roof"), seed=1)
    assert (some.edges, some.never_seen, some.failures, some.shrunken, some.expected) == (2, 1, 0, None, None)
    assert (empty.edges, empty.rate, empty.rate_interval, empty.shares) == (0, None, None, (None, None, None))
    assert some.shares[0] is not None
    assert some.shares[0].limit_only


def test_ages_not_watched_yet_are_none() -> None:
    lives = lives_of([0] * 4, [14, 14, 90, 14], [NEVER, 90, NEVER, NEVER], [1, 2, 3, 4])
    young = summarise(lives, np.array([0, 1, 1, 0]), ("new", "old"), seed=1)
    assert [s is None for s in young[0].shares] == [False, True, True]
    assert [s is None for s in young[1].shares] == [False, False, True]


def test_the_same_lives_in_another_order_give_the_same_figures() -> None:
    lives = constant_world(56, rate=5e-4)
    codes = np.arange(len(lives)) % 5
    order = np.random.default_rng(1).permutation(len(lives))
    one = summarise(lives, codes, tuple("abcde"), seed=9)
    other = summarise(lives.only(order), codes[order], tuple("abcde"), seed=9)
    for a, b in zip(one, other, strict=True):
        assert (a.edges, a.failures, a.vehicles, a.p_worst3) == (b.edges, b.failures, b.vehicles, b.p_worst3)
        assert a.shrunken == pytest.approx(b.shrunken, rel=1e-9)


def test_the_whole_has_no_ratio_to_itself() -> None:
    whole = overall(constant_world(57, rate=5e-4))
    assert whole.shrunken is None
    assert whole.p_worst3 is None
    assert whole.rate is not None


def test_codes_must_fit_lives_and_levels() -> None:
    lives = constant_world(58)
    with pytest.raises(ValueError, match="without a level"):
        summarise(lives, np.full(len(lives), 2), ("a", "b"), seed=1)
    with pytest.raises(ValueError, match="differ in length"):
        summarise(lives, np.zeros(3, dtype=int), ("a", "b"), seed=1)
