"""Five phrases, in a fixed order of gates."""

from dataclasses import replace

import pytest

from shopwarranty.analysis.aliasing import Tangle
from shopwarranty.analysis.effects import Contrast
from shopwarranty.analysis.verdicts import Phrase, Reason, few_witnesses, verdict

CLEAR = Contrast("heated", "no", "yes", 0.7, 0.15, 200.0, 1e-5, 900, 2000, 60, 70, 40.0, 90.0, 45, 60)
TANGLED = Tangle("heated", "no", "cold bay", 0.3, 4, True)


def test_the_phrases_are_spelled_as_they_are_exported() -> None:
    assert [p.value for p in Phrase] == [
        "cannot be told apart from {other}",
        "goes with more failures",
        "goes with fewer failures",
        "no clear difference",
        "cannot tell yet",
    ]


@pytest.mark.parametrize(
    ("log_ratio", "words"), [(0.7, "goes with more failures"), (-0.7, "goes with fewer failures")]
)
def test_a_contrast_that_holds_up_goes_with_more_or_fewer(log_ratio: float, words: str) -> None:
    said = verdict(replace(CLEAR, log_ratio=log_ratio), 0.04, None)
    assert (said.words, said.claimed, said.settled) == (words, True, True)


def test_just_above_the_line_nothing_is_claimed() -> None:
    assert verdict(CLEAR, 0.0401, None).phrase is Phrase.NOT_YET


def test_fewer_than_five_expected_on_either_side_comes_first() -> None:
    for few in (replace(CLEAR, expected=4.9), replace(CLEAR, reference_expected=4.9)):
        said = verdict(few, 0.0001, TANGLED, informative_return=True)
        assert said.phrase is Phrase.NOT_YET
        assert said.reason is Reason.TOO_FEW_EXPECTED


def test_people_who_stay_away_come_before_tangles() -> None:
    assert verdict(CLEAR, 0.0001, TANGLED, informative_return=True).reason is Reason.CALLBACKS_STAY_AWAY


def test_a_tangle_names_the_other_factor_whatever_the_p() -> None:
    assert verdict(CLEAR, 0.0001, TANGLED).words == "cannot be told apart from cold bay"
    assert not verdict(CLEAR, 0.0001, replace(TANGLED, cannot_tell=False)).words.startswith("cannot")


def test_no_clear_difference_needs_the_90_per_cent_interval_inside_the_margin() -> None:
    """With z = 1.645 and log 1.5 = 0.405 an error up to about 0.24 fits at a ratio of 1."""
    alike = replace(CLEAR, log_ratio=0.0, df=1e6, p=1.0)
    assert verdict(replace(alike, se=0.23), 0.9, None).phrase is Phrase.NO_DIFFERENCE
    assert verdict(replace(alike, se=0.26), 0.9, None).phrase is Phrase.NOT_YET
    assert verdict(replace(alike, se=0.23, log_ratio=0.1), 0.9, None).phrase is Phrase.NOT_YET


def test_few_vehicles_with_a_failure_are_said_beside_and_gate_nothing() -> None:
    few = replace(CLEAR, failed_vehicles=19)
    assert few_witnesses(few)
    assert not few_witnesses(CLEAR)
    assert verdict(few, 0.001, None).claimed
