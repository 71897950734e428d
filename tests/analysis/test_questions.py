import math

import numpy as np
import pytest

from shopwarranty.analysis.exposure import lives_of
from shopwarranty.analysis.questions import (
    NOT_RECORDED_LEVEL,
    Question,
    factor_from_numbers,
    factor_from_text,
    factor_of,
)


def test_the_reference_is_the_most_frequent_level_ties_alphabetical() -> None:
    factor = factor_from_text("panel", ["roof", "door", "roof", "door", "sill"])
    assert factor.levels == ("door", "roof", "sill")
    assert factor.levels[factor.reference] == "door"
    assert factor_from_text("x", ["b", "b", "a"]).reference == 1


def test_a_blank_is_not_recorded_and_never_the_reference() -> None:
    factor = factor_from_text("heated", ["", "", "", "no", "yes", "yes"])
    assert factor.levels == ("no", "yes", NOT_RECORDED_LEVEL)
    assert factor.levels[factor.reference] == "yes"
    assert factor.codes.tolist() == [2, 2, 2, 0, 1, 1]


def test_codes_are_put_in_order_of_their_names() -> None:
    factor = factor_of("heated", np.array([0, 1, -1, 1]), ("yes", "no"))
    assert factor.levels == ("no", "yes", NOT_RECORDED_LEVEL)
    assert factor.codes.tolist() == [1, 0, 2, 0]


def test_the_reference_may_be_counted_among_watched_lives_only() -> None:
    weight = np.array([False, False, True, False])
    assert factor_of("x", np.array([0, 0, 1, 0]), ("a", "b"), weight).reference == 1


def test_numbers_are_cut_at_their_tertiles() -> None:
    factor = factor_from_numbers("humidity", [10, 20, 30, 40, 50, 60, math.nan])
    assert factor.levels == ("over 20 up to 40", "over 40", "up to 20", NOT_RECORDED_LEVEL)
    assert [factor.levels[c] for c in factor.codes[:6:2]] == ["up to 20", "over 20 up to 40", "over 40"]
    assert factor.levels[factor.codes[6]] == NOT_RECORDED_LEVEL


def test_numbers_with_many_ties_have_fewer_levels() -> None:
    assert factor_from_numbers("passes", [2, 2, 2, 2, 2, 3]).levels == ("over 2", "up to 2")
    assert factor_from_numbers("passes", [2, 2, 2]).levels == ("any",)
    assert factor_from_numbers("passes", [math.nan]).levels == (NOT_RECORDED_LEVEL,)


def test_a_question_names_only_factors_it_has_once_and_of_the_right_length() -> None:
    lives = lives_of([0, 0], [14, 14], [-1, -1], [1, 2])
    factor = factor_from_text("x", ["a", "b"])
    with pytest.raises(ValueError, match="no factor named y"):
        Question(lives, (factor,), ("y",))
    with pytest.raises(ValueError, match="two factors"):
        Question(lives, (factor, factor), ("x",))
    with pytest.raises(ValueError, match="length"):
        Question(lives, (factor_from_text("x", ["a"]),), ("x",))
