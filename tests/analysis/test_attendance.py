import numpy as np
import pytest

from shopwarranty.analysis.attendance import attendance


def test_attendance_after_a_callback_is_held_against_others_of_the_same_check() -> None:
    """Within each check callers attend half as often; later checks are attended less by everybody."""
    check = np.repeat([0, 0, 1, 1], 100)
    after = np.tile(np.repeat([True, False], 100), 2)
    attended = np.concatenate([np.arange(100) < n for n in (40, 80, 20, 40)])
    found = attendance(check, attended, after)
    assert found.ratio == pytest.approx(0.5)
    assert (found.due_after, found.attended_after, found.due_without, found.attended_without) == (
        200,
        60,
        200,
        120,
    )


def test_the_mix_of_checks_does_not_pass_for_staying_away() -> None:
    check = np.concatenate([np.zeros(110, int), np.ones(110, int)])
    after = np.concatenate([np.arange(110) < 10, np.arange(110) < 100])
    attended = np.concatenate([np.ones(110, bool), np.arange(110) % 2 == 0])
    assert attendance(check, attended, after).ratio == pytest.approx(1.0)


def test_without_callbacks_or_without_others_nothing_is_said() -> None:
    check = np.array([0, 0])
    assert attendance(check, np.array([True, True]), np.array([False, False])).ratio is None
    assert attendance(check, np.array([True, True]), np.array([True, True])).ratio is None
    empty = np.array([], dtype=int)
    assert attendance(empty, empty.astype(bool), empty.astype(bool)).ratio is None
