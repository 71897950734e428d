"""VINs against the worked values of 49 CFR 565.

Where each VIN comes from stands beside it. "computed": with plain Python from the regulation's tables of
letter values and weights, for no published value exists.
"""

import pytest

from shopwarranty.trade import vin
from shopwarranty.trade.vin import VinError

SYNTHETIC = "0DEMXWRA1TF000123"  # a maker code beginning with 0 is not assigned; computed


@pytest.mark.parametrize(
    ("number", "total", "digit"),
    [
        ("1M8GDM9AXKP042788", 351, "X"),  # public worked example
        ("1G4AH59H45G118341", 411, "4"),  # the regulation's own sample, Table V
        ("1J9RP1A36A1644345", 314, "6"),  # the regulator's guide for new manufacturers
        ("11111111111111111", 89, "1"),  # a test value, computed
        (SYNTHETIC, 243, "1"),
    ],
)
def test_published_numbers_have_their_published_check_digit(number: str, total: int, digit: str) -> None:
    found = vin.check_digit(number)
    assert (found.total, found.computed, found.found) == (total, digit, digit)
    assert vin.check(number).is_possible
    assert not vin.check(number).is_doubtful


@pytest.mark.parametrize(
    ("number", "products"),
    [
        ("1G4AH59H45G118341", [8, 49, 24, 5, 32, 15, 18, 80, 0, 45, 56, 7, 6, 40, 12, 12, 2]),
        (SYNTHETIC, [0, 28, 30, 20, 28, 18, 18, 10, 0, 27, 48, 0, 0, 0, 4, 6, 6]),
    ],
)
def test_letter_values_times_weights_are_those_of_the_regulation(number: str, products: list[int]) -> None:
    assert [vin.VALUES[c] * w for c, w in zip(number, vin.WEIGHTS, strict=True)] == products


@pytest.mark.parametrize(
    ("number", "total", "computed", "found"),
    [
        ("0DEMXWRA9TF000124", 245, "3", "9"),
        ("0DEMXWRA1TF100123", 250, "8", "1"),
        ("0DEMKWRA1TF000123", 223, "3", "1"),
    ],
)
def test_a_failed_check_digit_is_a_doubt_and_not_a_refusal(
    number: str, total: int, computed: str, found: str
) -> None:  # sums computed
    checked = vin.check(number)
    assert checked.is_possible
    assert checked.is_doubtful
    assert checked.check_digit == vin.CheckDigit(total, computed, found)


@pytest.mark.parametrize("typed", ["0demxwra1tf000123 ", "0DEM XWRA-1TF000123", "\t0DEMXWRA1TF000123\n"])
def test_case_spaces_and_hyphens_do_not_matter(typed: str) -> None:
    assert vin.normalise(typed) == SYNTHETIC
    assert vin.check(typed).is_possible


def test_the_letter_o_is_refused_zero_is_suggested_and_what_was_typed_is_kept() -> None:
    checked = vin.check("ODEMXWRA1TF000123")
    (fault,) = checked.faults
    assert (fault.error, fault.position, fault.found, fault.suggestion) == (VinError.LETTER, 1, "O", "0")
    assert checked.vin == "ODEMXWRA1TF000123"
    assert checked.suggestion == SYNTHETIC
    assert checked.check_digit is None


@pytest.mark.parametrize(("letter", "digit"), [("I", "1"), ("O", "0"), ("Q", "0")])
def test_letters_that_look_like_digits_are_never_used(letter: str, digit: str) -> None:
    (fault,) = vin.check(SYNTHETIC[:-1] + letter).faults
    assert (fault.position, fault.suggestion) == (17, digit)
    assert letter not in vin.VALUES


def test_sixteen_characters_are_refused_with_their_count() -> None:
    (fault,) = vin.check("0DEMXWRA1TF00012").faults
    assert fault.error is VinError.LENGTH
    assert fault.message == "16 characters; a VIN has 17."


def test_nothing_typed_and_strange_characters_are_refused() -> None:
    assert vin.check("  ").faults[0].error is VinError.EMPTY
    assert vin.check("0DEMXWRA1TF00012*").faults[0].error is VinError.CHARACTER
    assert vin.check("0DEMXWRA1TF00012\u0663").faults[0].error is VinError.CHARACTER


def test_every_fault_is_told_at_once() -> None:
    assert [f.error for f in vin.check("OIQ").faults] == [VinError.LENGTH] + [VinError.LETTER] * 3


def test_passing_is_no_proof() -> None:
    # C and 3 both count 3.
    assert not vin.check("0DEMXWRA1TF00012C").is_doubtful


def test_31_of_the_512_single_character_changes_go_unseen() -> None:  # computed
    changed = [
        SYNTHETIC[:i] + letter + SYNTHETIC[i + 1 :]
        for i, old in enumerate(SYNTHETIC)
        if i != vin.CHECK_POSITION - 1
        for letter in vin.VALUES
        if letter != old
    ]
    assert len(changed) == 512
    assert sum(not vin.check(number).is_doubtful for number in changed) == 31


def test_all_12_swaps_of_unequal_neighbours_are_seen() -> None:  # computed
    swaps = [
        SYNTHETIC[:i] + SYNTHETIC[i + 1] + SYNTHETIC[i] + SYNTHETIC[i + 2 :]
        for i in range(16)
        if SYNTHETIC[i] != SYNTHETIC[i + 1] and vin.CHECK_POSITION - 1 not in (i, i + 1)
    ]
    assert len(swaps) == 12
    assert all(vin.check(number).is_doubtful for number in swaps)


def test_a_check_digit_is_only_worked_out_for_whole_numbers() -> None:
    with pytest.raises(ValueError, match="17 characters"):
        vin.check_digit("0DEM")


def test_the_last_six_are_compared_without_spaces() -> None:
    assert vin.last_six("0DEM XWRA-1TF000123") == "000123"
