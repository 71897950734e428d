import numpy as np
import pytest

from shopwarranty.analysis.exposure import Lives
from shopwarranty.analysis.packing import BadBlock, Column, codes, days, pack, unpack
from shopwarranty.analysis.questions import Question, factor_of
from shopwarranty.analysis.review import analyse
from shopwarranty.analysis.review_json import to_json

from .worlds import late_world


def columns_of(lives: Lives) -> list[Column]:
    size = len(lives)
    return [
        *(days(c) for c in (lives.entry, lives.clean, lives.failed, lives.cluster)),
        codes(np.arange(size) % 3 - 1, 3),
        codes(lives.cluster % 7, 40_000),
        np.where(np.arange(size) % 5, np.arange(size) / 7, np.nan),
        np.arange(size) % 2 == 0,
        np.arange(size, dtype=np.int8) % 4 - 1,
        np.arange(size) + 2**40,
    ]


def test_what_is_packed_comes_back_whole_from_several_blocks() -> None:
    before = columns_of(late_world(121))
    after = unpack([pack([c[:300] for c in before]), pack([c[300:] for c in before])])
    for one, other in zip(before, after, strict=True):
        np.testing.assert_array_equal(one, other)
        assert one.dtype == other.dtype


def test_codes_take_two_bytes_and_days_four() -> None:
    lives = late_world(121)
    assert codes(lives.cluster % 7, 7).itemsize == 2
    assert codes(lives.cluster % 7, 40_000).itemsize == 4
    assert days(lives.failed).itemsize == 4


def test_nothing_packed_is_nothing_unpacked() -> None:
    (empty,) = unpack([pack([np.array([], dtype=np.int32)])])
    assert empty.shape == (0,)
    assert unpack([pack([])]) == []


def test_a_review_of_unpacked_lives_is_the_same_to_the_last_digit() -> None:
    lives = late_world(122)
    coded = [lives.cluster % 2, np.arange(len(lives)) % 3 - 1]
    packed = [
        *(days(c) for c in (lives.entry, lives.clean, lives.failed, lives.cluster)),
        *(codes(c, 3) for c in coded),
    ]
    back = unpack([pack(packed)])
    reviews = []
    for seen, kept in ((lives, coded), (Lives(*back[:4]), back[4:])):
        factors = tuple(factor_of(name, c, "abc") for name, c in zip("xy", kept, strict=True))
        reviews.append(analyse(Question(seen, factors, ("x", "y")), seed=1))
    assert to_json(reviews[0]) == to_json(reviews[1])


def test_a_damaged_or_foreign_block_is_refused() -> None:
    columns = columns_of(late_world(123))
    block = pack(columns)
    for broken in (
        b"",
        block[:21],
        block[:-1],
        block + b"x",
        b"X" + block[1:],
        block[:20] + b"\x09" + block[21:],
    ):
        with pytest.raises(BadBlock):
            unpack([broken])
    with pytest.raises(BadBlock, match="different columns"):
        unpack([block, pack(columns[:-1])])
    with pytest.raises(BadBlock, match="no block"):
        unpack([])


def test_a_number_too_large_to_pack_is_refused() -> None:
    with pytest.raises(OverflowError):
        codes(np.array([40_000]), 3)
    with pytest.raises(OverflowError):
        days(np.array([2**31]))


def test_columns_that_do_not_belong_together_are_refused() -> None:
    with pytest.raises(ValueError, match="length"):
        pack([np.zeros(3, dtype=np.int32), np.zeros(4, dtype=np.int32)])
    with pytest.raises(TypeError):
        pack([np.array(["a"])])
