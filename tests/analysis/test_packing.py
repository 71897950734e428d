import numpy as np
import pytest

from shopwarranty.analysis.packing import BadBlock, pack, unpack
from shopwarranty.analysis.questions import Question, factor_of
from shopwarranty.analysis.review import analyse
from shopwarranty.analysis.review_json import to_json

from .worlds import late_world


def test_what_is_packed_comes_back_whole_from_several_blocks() -> None:
    lives = late_world(121)
    codes = [np.arange(len(lives)) % 3 - 1, lives.cluster % 7]
    halves = [slice(0, 300), slice(300, None)]
    blocks = [pack(lives.only(np.arange(len(lives))[h]), [c[h] for c in codes]) for h in halves]
    back, columns = unpack(blocks)
    for name in ("entry", "clean", "failed", "cluster"):
        np.testing.assert_array_equal(getattr(back, name), getattr(lives, name))
    for one, other in zip(columns, codes, strict=True):
        np.testing.assert_array_equal(one, other)


def test_a_review_of_unpacked_lives_is_the_same_to_the_last_digit() -> None:
    lives = late_world(122)
    codes = [lives.cluster % 2, np.arange(len(lives)) % 3 - 1]
    back, columns = unpack([pack(lives, codes)])
    reviews = []
    for seen, coded in ((lives, codes), (back, columns)):
        factors = tuple(factor_of(name, c, "abc") for name, c in zip("xy", coded, strict=True))
        reviews.append(analyse(Question(seen, factors, ("x", "y")), seed=1))
    assert to_json(reviews[0]) == to_json(reviews[1])


def test_a_damaged_or_foreign_block_is_refused() -> None:
    lives = late_world(123)
    block = pack(lives, [lives.cluster % 2])
    for broken in (b"", block[:-1], block + b"x", b"X" + block[1:]):
        with pytest.raises(BadBlock):
            unpack([broken])
    with pytest.raises(BadBlock, match="different columns"):
        unpack([block, pack(lives, [])])
    with pytest.raises(BadBlock, match="no block"):
        unpack([])


def test_a_code_too_large_to_pack_is_refused() -> None:
    lives = late_world(124)
    with pytest.raises(OverflowError):
        pack(lives, [np.full(len(lives), 40_000)])
