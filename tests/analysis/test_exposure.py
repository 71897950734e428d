import numpy as np
import pytest

from shopwarranty.analysis.exposure import NEVER, Lives, LivesError, edge_days, lives_of


def test_edge_days_are_clean_days_and_half_of_a_failing_interval() -> None:
    lives = lives_of([0, 0, 10, 0], [14, NEVER, 40, NEVER], [90, 14, NEVER, NEVER], [1, 1, 2, 2])
    assert edge_days(lives).tolist() == [14 + 38, 7, 30, 0]


def test_a_place_nobody_looked_at_is_not_watched_and_not_clean() -> None:
    lives = lives_of([0, 0, 0], [NEVER, 0, 14], [NEVER, NEVER, NEVER], [1, 1, 1])
    assert lives.watched.tolist() == [False, False, True]


def test_a_failure_never_seen_clean_lies_after_entry() -> None:
    lives = lives_of([5], [NEVER], [20], [1])
    assert (lives.last_clean[0], lives.watched[0]) == (5, True)


@pytest.mark.parametrize(
    ("entry", "clean", "failed", "rule"),
    [
        (-3, NEVER, NEVER, "below 0"),
        (10, 5, NEVER, "before it was watched"),
        (0, 14, 14, "no later than"),
        (0, NEVER, 0, "no later than"),
        (0, -5, NEVER, "before it was watched"),
        (0, 40_000, NEVER, "century"),
    ],
)
def test_a_row_that_cannot_be_a_life_is_named(entry: int, clean: int, failed: int, rule: str) -> None:
    with pytest.raises(LivesError, match=rule) as refused:
        lives_of([0, entry], [14, clean], [NEVER, failed], [1, 1])
    assert refused.value.row == 1


def test_columns_must_be_equally_long_whole_numbers() -> None:
    with pytest.raises(ValueError, match="differ in length"):
        lives_of([0, 0], [1], [NEVER], [1])
    with pytest.raises(ValueError, match="whole numbers"):
        Lives(np.zeros(1), np.ones(1), np.zeros(1), np.zeros(1))  # type: ignore[arg-type]
    with pytest.raises(TypeError):
        lives_of([0.5], [14.2], [NEVER], [1])


def test_no_lives_at_all_are_allowed() -> None:
    empty = lives_of(*(np.array([], dtype=np.int64) for _ in range(4)))
    assert len(empty) == 0
    assert edge_days(empty).sum() == 0
