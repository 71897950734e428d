import numpy as np
import pytest
from statsmodels.stats.multitest import multipletests

from shopwarranty.analysis.multiplicity import benjamini_hochberg, holm

from .reference import case


def test_the_fifteen_p_values_of_benjamini_and_hochberg_1995() -> None:
    paper = case("h_open_bh1995")
    p = np.array(paper["data"]["p"])
    assert benjamini_hochberg(p) == pytest.approx(paper["expected"]["bh95"]["BH"], abs=1e-12)
    assert holm(p) == pytest.approx(paper["expected"]["bh95"]["holm"], abs=1e-12)
    assert (benjamini_hochberg(p) <= 0.05).sum() == paper["expected"]["rejections_at_005"]["BH"]


def test_what_was_not_tested_stays_open_and_is_not_counted() -> None:
    paper = case("h_open_bh1995")
    p = np.array(paper["data"]["also"], dtype=float)
    expected = np.array(paper["expected"]["also_BH"], dtype=float)
    np.testing.assert_allclose(benjamini_hochberg(p), expected, atol=1e-12)
    np.testing.assert_array_equal(np.isnan(holm(p)), np.isnan(expected))


def test_random_p_values_agree_with_statsmodels() -> None:
    p = np.random.default_rng(4).random(57) ** 3
    np.testing.assert_allclose(benjamini_hochberg(p), multipletests(p, method="fdr_bh")[1], atol=1e-14)
    np.testing.assert_allclose(holm(p), multipletests(p, method="holm")[1], atol=1e-14)


def test_the_order_of_the_questions_does_not_matter() -> None:
    rng = np.random.default_rng(5)
    p, order = rng.random(20), rng.permutation(20)
    for rule in (benjamini_hochberg, holm):
        np.testing.assert_array_equal(rule(p)[order], rule(p[order]))


def test_one_question_is_not_corrected_and_none_gives_none() -> None:
    assert benjamini_hochberg(np.array([0.03]))[0] == holm(np.array([0.03]))[0] == 0.03
    assert len(holm(np.array([]))) == 0


def test_a_p_value_outside_0_to_1_is_refused() -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        holm(np.array([0.2, 1.2]))
