"""The cut planner. Worked values: common practice, no source; counts are checked by counting off."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopwarranty.trade.catalogue import Size
from shopwarranty.trade.cut_plan import Allowance, ImpossibleSize, Rectangle, piece_for, plan

INCH = 25.4
DOOR = Rectangle(52 * INCH, 43 * INCH)
ROLL = (60 * INCH, 60 * 12 * INCH)


def test_a_door_of_50_by_38_in_is_cut_as_52_by_43() -> None:
    piece = piece_for(Size(1270, 965), Allowance(1 * INCH, 2.5 * INCH))
    assert (piece.long_mm / INCH, piece.short_mm / INCH) == pytest.approx((52, 43), abs=0.01)


def test_a_roll_of_60_in_by_60_ft_gives_16_doors_across_and_13_along() -> None:
    across, along = plan(DOOR, *ROLL).cuts
    assert (across.long_side_across, across.pieces) == (True, 16)
    assert (along.long_side_across, along.pieces) == (False, 13)
    assert (across.length_used_mm, along.length_used_mm) == pytest.approx((43 * INCH, 52 * INCH))


def test_the_way_that_uses_less_of_the_roll_is_the_best_and_says_what_stays() -> None:
    best = plan(DOOR, *ROLL).best
    assert best is not None
    assert best.long_side_across
    assert best.left_on_roll_mm == pytest.approx((720 - 43) * INCH)
    assert best.off_cut is not None
    assert (best.off_cut.long_mm, best.off_cut.short_mm) == pytest.approx((43 * INCH, 8 * INCH))


def test_a_piece_longer_than_the_roll_is_wide_is_only_cut_the_other_way() -> None:
    cuts = plan(Rectangle(2000, 700), 1524, 15000).cuts
    assert [cut.long_side_across for cut in cuts] == [False]
    assert cuts[0].abreast == 2
    assert cuts[0].pieces == 14


def test_a_piece_too_wide_both_ways_has_no_cut() -> None:
    assert plan(Rectangle(2000, 1600), 1524, 15000).cuts == ()
    assert plan(Rectangle(2000, 1600), 1524, 15000).best is None


def test_a_roll_that_is_too_short_says_by_how_much() -> None:
    found = plan(DOOR, ROLL[0], 1000)
    assert found.best is None
    assert not any(cut.fits for cut in found.cuts)
    assert found.cuts[0].left_on_roll_mm == pytest.approx(1000 - 43 * INCH)


def test_a_piece_as_wide_as_the_roll_fits_and_leaves_nothing_beside() -> None:
    best = plan(Rectangle(60 * INCH, 500), *ROLL).best
    assert best is not None
    assert best.off_cut is None


def test_a_square_has_one_way_round() -> None:
    assert len(plan(Rectangle(500, 500), 1524, 1000).cuts) == 1


def test_small_pieces_go_side_by_side_and_the_way_that_gives_more_is_there_to_see() -> None:
    across, along = plan(Rectangle(300, 250), 1524, 300).cuts
    assert (across.length_used_mm, across.abreast, across.pieces) == (250, 5, 5)
    assert (along.length_used_mm, along.abreast, along.pieces) == (300, 6, 6)


@given(st.integers(1, 900), st.integers(1, 900), st.integers(1, 1000), st.integers(0, 2000))
def test_pieces_are_as_many_as_can_be_counted_off_one_by_one(a: int, b: int, width: int, length: int) -> None:
    for cut in plan(Rectangle(max(a, b), min(a, b)), width, length).cuts:
        rows = len(range(int(cut.length_used_mm), length + 1, int(cut.length_used_mm)))
        abreast = len(range(int(cut.across_roll_mm), width + 1, int(cut.across_roll_mm)))
        assert cut.pieces == rows * abreast
        assert cut.abreast == abreast


@pytest.mark.parametrize(
    ("size", "allowance"),
    [(Size(0, 10), Allowance(1, 1)), (Size(10, -1), Allowance(1, 1)), (Size(10, 10), Allowance(-1, 0))],
)
def test_impossible_sizes_are_refused(size: Size, allowance: Allowance) -> None:
    with pytest.raises(ImpossibleSize):
        piece_for(size, allowance)


def test_an_impossible_roll_is_refused() -> None:
    with pytest.raises(ImpossibleSize):
        plan(DOOR, 0, 100)
    with pytest.raises(ImpossibleSize):
        plan(DOOR, 1524, -1)
