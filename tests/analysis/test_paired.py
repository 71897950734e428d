"""Matched pairs against published counts, R's exact tests and the libraries."""

import math

import pytest
from statsmodels.stats.contingency_tables import mcnemar as library_mcnemar

from shopwarranty.analysis.paired_size import connor_pairs, discordant_share, exact_power, outlook
from shopwarranty.analysis.paired_test import Discordant, mcnemar

from .reference import case


@pytest.mark.parametrize("name", ["approval", "small"])
def test_agresti_and_r_give_the_same_p_ratio_and_interval(name: str) -> None:
    expected = case("b_open_mcnemar")["expected"][name]
    found = mcnemar(Discordant(expected["b"], expected["c"]))
    assert found.exact_p == pytest.approx(expected["exact_p_two_sided"], abs=1e-10)
    assert found.mid_p == pytest.approx(expected["midp_two_sided"], abs=1e-10)
    assert found.ratio == pytest.approx(expected["cond_or"])
    assert [found.interval.low, found.interval.high] == pytest.approx(
        expected["cond_or_ci95_exact"], rel=1e-8
    )


@pytest.mark.parametrize(("other", "usual"), [(0, 1), (3, 3), (1, 9), (0, 12), (40, 41)])
def test_exact_p_is_the_librarys(other: int, usual: int) -> None:
    library = library_mcnemar([[0, other], [usual, 0]], exact=True).pvalue
    assert mcnemar(Discordant(other, usual)).exact_p == pytest.approx(library, abs=1e-12)


def test_without_a_discordant_pair_nothing_is_said() -> None:
    found = mcnemar(Discordant(0, 0))
    assert (found.mid_p, found.ratio) == (1.0, None)
    assert (found.interval.low, found.interval.high) == (0.0, math.inf)


@pytest.mark.parametrize("number", [0, 1])
def test_connors_sample_size_and_its_exact_power(number: int) -> None:
    """Connor (1987); power by enumeration in R and numpy."""
    asked, expected = (case("k_open_sample_size")[k]["connor"][number] for k in ("data", "expected"))
    shares = asked["p10"], asked["p01"]
    pairs = connor_pairs(*shares, asked["alpha"], asked["power"])
    assert pairs == pytest.approx(expected["n_raw"], abs=1e-3)
    for mid, name in ((True, "midp"), (False, "exact")):
        wanted = expected[f"exact_power_{name}_mcnemar_at_n"]
        found = exact_power(math.ceil(pairs), *shares, asked["alpha"], mid)
        assert found == pytest.approx(wanted, abs=1e-9)


def test_discordant_share_counts_both_ways_of_differing() -> None:
    assert discordant_share(0.1, 2.0) == pytest.approx(0.2 * 0.9 + 0.1 * 0.8)
    assert discordant_share(0.6, 2.0) == pytest.approx(0.4)


def test_an_outlook_gives_pairs_and_months_or_says_never() -> None:
    quick = outlook(80, 0.26, pairs_a_month=20, by_day=90)
    assert quick.pairs is not None
    assert quick.months == pytest.approx(quick.pairs / 20 + 90 / 30.44)
    assert quick.pairs > 80 / 0.26
    assert outlook(80, 0.02, pairs_a_month=5, by_day=90).months is None
    assert outlook(80, 0.0, pairs_a_month=5, by_day=90).pairs is None
    assert outlook(80, 0.26, pairs_a_month=0, by_day=90).months is None
