import pytest
from scipy.stats import binomtest

from shopwarranty.analysis.proportions import Interval, clopper_pearson, upper_limit, wilson

from .reference import case


def test_both_intervals_match_newcombes_four_pairs() -> None:
    newcombe = case("a_open_newcombe1998")
    for row in newcombe["expected"]["limits"]:
        for name, method in (("wilson", wilson), ("clopper_pearson", clopper_pearson)):
            got = method(row["x"], row["n"], row["conf"])
            assert (got.low, got.high) == pytest.approx(row[name], abs=newcombe["tolerance"]["limits"])


def test_the_published_four_digits_of_newcombe_table_1_come_out() -> None:
    newcombe = case("a_open_newcombe1998")
    printed = newcombe["expected"]["published_4dp_from_memory"]
    for pair, w, cp in zip(newcombe["data"], printed["wilson"], printed["clopper_pearson"], strict=True):
        for published, method in ((w, wilson), (cp, clopper_pearson)):
            got = method(pair["x"], pair["n"])
            assert (got.low, got.high) == pytest.approx(published, abs=6e-5)


def test_wilson_matches_the_table_of_small_samples() -> None:
    table = case("wilson_small_samples")
    for (x, n), (low, high) in zip(table["data"], table["expected"]["per_cent"], strict=True):
        got = wilson(x, n)
        assert (100 * got.low, 100 * got.high) == pytest.approx((low, high), abs=0.0501)


def test_none_of_twenty_is_limited_to_13_9_per_cent() -> None:
    limit = case("wilson_small_samples")["expected"]["exact_one_sided_upper_of_0_in_20_per_cent"]
    assert 100 * upper_limit(0, 20) == pytest.approx(limit, abs=0.05)


def test_the_one_sided_limit_is_the_upper_end_of_a_wider_two_sided_interval() -> None:
    assert upper_limit(3, 40) == pytest.approx(clopper_pearson(3, 40, 0.9).high, abs=1e-14)
    assert upper_limit(0, 8) == pytest.approx(1 - 0.05 ** (1 / 8), abs=1e-14)


def test_the_rule_of_three_is_what_a_large_total_comes_to() -> None:
    assert upper_limit(0, 10_000) == pytest.approx(3 / 10_000, rel=2e-3)


@pytest.mark.parametrize(("x", "n"), [(0, 1), (1, 1), (3, 7), (50, 51), (2, 900)])
@pytest.mark.parametrize("level", [0.8, 0.95, 0.99])
def test_intervals_agree_with_scipy(x: int, n: int, level: float) -> None:
    for name, method in (("wilson", wilson), ("exact", clopper_pearson)):
        theirs = binomtest(x, n).proportion_ci(level, name)
        got = method(x, n, level)
        assert (got.low, got.high) == pytest.approx((theirs.low, theirs.high), abs=1e-12)


def test_counting_successes_or_failures_mirrors_the_interval() -> None:
    for method in (wilson, clopper_pearson):
        one, other = method(3, 40), method(37, 40)
        assert (one.low, one.high) == pytest.approx((1 - other.high, 1 - other.low), abs=1e-14)


def test_fractions_of_counts_are_allowed_for_design_effects() -> None:
    assert wilson(1.5, 20.5) != wilson(1, 20)
    assert isinstance(clopper_pearson(0.0, 2.5), Interval)


@pytest.mark.parametrize(("x", "n", "level"), [(-1, 5, 0.95), (6, 5, 0.95), (0, 0, 0.95), (1, 2, 1.0)])
def test_what_is_no_share_is_refused(x: int, n: int, level: float) -> None:
    for method in (wilson, clopper_pearson):
        with pytest.raises(ValueError, match=r"share|confidence"):
            method(x, n, level)
