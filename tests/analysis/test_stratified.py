"""Crude and stratified ratios against the Berkeley admissions and statsmodels."""

import numpy as np
import pytest
from statsmodels.stats.contingency_tables import StratifiedTable

from shopwarranty.analysis.exposure import NEVER, lives_of
from shopwarranty.analysis.stratified import (
    crude_ratio,
    early_looks,
    mantel_haenszel,
    strata_agree_p,
    tables_by_level,
)

from .reference import case


def test_berkeleys_admissions_turn_round_within_departments() -> None:
    berkeley = case("c_open_berkeley")
    tables, expected = np.array(berkeley["data"]["tables"]), berkeley["expected"]
    found = mantel_haenszel(tables)
    assert crude_ratio(tables) == pytest.approx(expected["crude_or"], abs=1e-8)
    assert found.ratio == pytest.approx(expected["mh_or"], abs=1e-8)
    assert found.interval is not None
    low, high = expected["mh_or_ci95_rbg"]
    assert (found.interval.low, found.interval.high) == pytest.approx((low, high), abs=1e-7)
    assert strata_agree_p(tables, expected["mh_or"]) == pytest.approx(expected["tarone_p"], abs=1e-6)


def test_random_strata_agree_with_statsmodels() -> None:
    tables = np.random.default_rng(61).poisson(8, (7, 2, 2)).astype(float)
    theirs = StratifiedTable([t for t in tables])  # noqa: C416
    found = mantel_haenszel(tables)
    assert found.ratio == pytest.approx(theirs.oddsratio_pooled, rel=1e-9)
    assert found.interval is not None
    assert (found.interval.low, found.interval.high) == pytest.approx(
        theirs.oddsratio_pooled_confint(), rel=1e-9
    )
    homogeneous = theirs.test_equal_odds(adjust=True).pvalue
    assert found.ratio is not None
    assert strata_agree_p(tables, found.ratio) == pytest.approx(homogeneous, rel=1e-6)


def test_an_empty_stratum_adds_nothing() -> None:
    tables = np.array([[[5.0, 20.0], [3.0, 30.0]], [[0.0, 0.0], [4.0, 9.0]], [[0.0, 7.0], [0.0, 9.0]]])
    assert mantel_haenszel(tables) == mantel_haenszel(tables[:1])


def test_no_ratio_where_a_side_has_no_failure() -> None:
    tables = np.array([[[0.0, 20.0], [3.0, 30.0]]])
    assert crude_ratio(tables) is None
    assert mantel_haenszel(tables).ratio is None


def test_seen_by_day_30_means_found_by_then_or_known_clean() -> None:
    lives = lives_of(
        [0, 0, 0, 0, 0, 40],
        [14, NEVER, NEVER, 14, 90, 90],
        [NEVER, 14, 90, 90, NEVER, NEVER],
        [1] * 6,
    )
    early = early_looks(lives, 30)
    assert early.rows.tolist() == [0, 1, 3, 4, 5]  # the third was first seen at 90: nobody knows
    assert early.clean.tolist() == [1, 0, 1, 1, 1]


def test_tables_count_failed_and_clean_by_level_and_stratum() -> None:
    lives = lives_of([0] * 5, [14, NEVER, NEVER, 14, 14], [NEVER, 14, 14, NEVER, NEVER], [1] * 5)
    tables = tables_by_level(
        early_looks(lives, 30), np.array([0, 0, 1, 1, 1]), 2, np.array([0, 0, 0, 1, 1]), 2
    )
    assert tables.tolist() == [[[1, 1], [1, 0]], [[0, 0], [0, 2]]]
