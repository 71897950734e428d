"""Certificate numbers against ISO/IEC 7064 MOD 97-10 as python-stdnum computes it."""

import string
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum import iban, lei
from stdnum.iso7064 import mod_97_10

from shopwarranty.warranty.numbers import (
    SERIES_LETTERS,
    CertificateNumber,
    NumberEmpty,
    NumberMalformed,
    NumberMistyped,
    check_agrees,
    check_characters,
    make_number,
    next_series,
    parse_number,
)

prefixes = st.text(string.ascii_uppercase, min_size=2, max_size=4)
numbers = st.builds(
    CertificateNumber,
    prefix=prefixes,
    year=st.integers(0, 99),
    series=st.sampled_from(["", *SERIES_LETTERS]),
    running=st.integers(1, 2_000_000),
)
SAMPLES = [
    make_number(prefix="FY", year=2026, running=417),
    make_number(prefix="OIL", year=2007, running=10_101),
    make_number(prefix="WXYZ", year=2031, running=9_999, series="B"),
]


def test_a_number_has_prefix_year_running_number_and_two_check_characters() -> None:
    assert make_number(prefix="FY", year=2026, running=417) == "FY-26-0417-88"
    assert make_number(prefix="fy", year=26, running=1, series="b") == "FY-26B-0001-29"
    assert make_number(prefix="FY", year=2026, running=12_345).startswith("FY-26-12345-")


@given(st.text(string.digits + string.ascii_uppercase, min_size=1, max_size=30))
def test_check_characters_equal_python_stdnum(body: str) -> None:
    """Source: python-stdnum, stdnum.iso7064.mod_97_10 (ISO/IEC 7064:2003, MOD 97-10)."""
    assert check_characters(body) == mod_97_10.calc_check_digits(body)
    assert check_agrees(body + check_characters(body))


@given(numbers)
def test_every_number_made_passes_python_stdnum_and_reads_back(number: CertificateNumber) -> None:
    assert mod_97_10.is_valid(number.compact)
    assert parse_number(str(number)) == number
    assert parse_number(number.compact.lower()) == number


def test_the_published_example_794_has_check_digits_44() -> None:
    """The usual worked example of ISO/IEC 7064 MOD 97-10 (from memory)."""
    assert check_characters("794") == "44"
    assert check_agrees("79444")


def test_other_standards_built_on_the_same_check_agree() -> None:
    """ISO 17442 (LEI) uses the check as it stands; ISO 13616 (IBAN) with four characters moved to the end."""
    body = "5493001KJTIIGC8Y1R"
    assert lei.is_valid(body + check_characters(body))
    account = "WEST12345698765432" + "GB"
    assert iban.is_valid("GB" + check_characters(account) + "WEST12345698765432")


@pytest.mark.parametrize("number", SAMPLES)
def test_every_single_wrong_character_is_refused(number: str) -> None:
    compact = number.replace("-", "")
    for place, right in enumerate(compact):
        for wrong in set(string.digits + string.ascii_uppercase) - {right}:
            with pytest.raises((NumberMalformed, NumberMistyped)):
                parse_number(compact[:place] + wrong + compact[place + 1 :])


@pytest.mark.parametrize("number", SAMPLES)
def test_every_swap_of_unequal_neighbours_is_refused(number: str) -> None:
    compact = number.replace("-", "")
    for place, (left, right) in enumerate(pairwise(compact)):
        if left != right:
            with pytest.raises((NumberMalformed, NumberMistyped)):
                parse_number(compact[:place] + right + left + compact[place + 2 :])


@given(numbers, st.data())
def test_no_single_wrong_letter_or_digit_passes_in_any_number(
    number: CertificateNumber, data: st.DataObject
) -> None:
    """ISO/IEC 7064 MOD 97-10: a digit for a digit, a letter for a letter."""
    compact = number.compact
    place = data.draw(st.integers(0, len(compact) - 1))
    kind = string.digits if compact[place].isdigit() else string.ascii_uppercase
    wrong = data.draw(st.sampled_from(kind).filter(lambda c: c != compact[place]))
    with pytest.raises((NumberMalformed, NumberMistyped)):
        parse_number(compact[:place] + wrong + compact[place + 1 :])


@pytest.mark.parametrize(
    "typed",
    [
        "FY-26-0417-88",
        "fy-26-0417-88",
        " FY 26 0417 88 ",
        "FY26041788",
        "fy–26–0417–88",
        "FY-26 0417/88",
        "f y 2 6 0 4 1 7 8 8",
    ],
)
def test_case_spaces_and_dashes_do_not_matter(typed: str) -> None:
    assert str(parse_number(typed)) == "FY-26-0417-88"


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("FY-26-O417-88", "FY-26-0417-88"),
        ("FY-26-04I7-88", "FY-26-0417-88"),
        ("fy-26-o4l7-88", "FY-26-0417-88"),
        (SAMPLES[1].replace("OIL", "01L"), SAMPLES[1]),
        (SAMPLES[1].replace("OIL", "0IL").replace("10101", "IOIOI"), SAMPLES[1]),
    ],
)
def test_letters_typed_for_digits_bring_a_suggestion_and_are_not_accepted(typed: str, meant: str) -> None:
    with pytest.raises(NumberMalformed) as caught:
        parse_number(typed)
    assert caught.value.suggestion == meant


@pytest.mark.parametrize("typed", ["", "   ", "--"])
def test_nothing_typed_is_said_to_be_nothing(typed: str) -> None:
    with pytest.raises(NumberEmpty, match="Type the certificate number"):
        parse_number(typed)


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ("26-0417-88", "begins with the 2 to 4 letters"),
        ("F-26-0417-88", "begins with the 2 to 4 letters"),
        ("FENNEL-26-0417-88", "begins with the 2 to 4 letters"),
        ("FY-26-041", "too short"),
        ("FY-26-0417-8", "too short"),
        ("FY-26-0417-8?", "“\\?” never stands"),
        ("FY-26-0417-88é", "“É” never stands"),
        ("FY-2X-0417-88", "come digits"),
        ("FY-26-04170-0417-0417-041-88", "too long"),
        ("FY-26-0000-" + check_characters("FY260000"), "come digits"),
    ],
)
def test_the_error_says_what_is_wrong(typed: str, message: str) -> None:
    with pytest.raises(NumberMalformed, match=message):
        parse_number(typed)


def test_digits_of_other_scripts_are_not_read_as_ours() -> None:
    with pytest.raises(NumberMalformed, match="never stands"):
        parse_number("FY-26-0417-8\u0668")


def test_two_swapped_digits_are_named_as_a_mistake_of_the_check_characters() -> None:
    with pytest.raises(NumberMistyped, match="two are swapped"):
        parse_number("FY-26-4017-88")


def test_a_million_characters_are_refused_at_once() -> None:
    with pytest.raises(NumberMalformed, match="too long"):
        parse_number("FY" + "1" * 1_000_000)


def test_a_restored_installation_opens_a_series_that_never_collides() -> None:
    """The same running number in a new series is another number, whole and without its check characters."""
    first = {make_number(prefix="FY", year=2026, running=n) for n in range(1, 500)}
    second = {make_number(prefix="FY", year=2026, running=n, series=next_series("")) for n in range(1, 500)}
    assert not first & second
    assert not {n.replace("-", "") for n in first} & {n.replace("-", "") for n in second}
    assert next_series("A") == "B"
    assert next_series("H") == "J"
    with pytest.raises(ValueError, match="all series letters"):
        next_series("Z")


@pytest.mark.parametrize(
    "part",
    [
        {"prefix": "F"},
        {"prefix": "FENNE"},
        {"prefix": "F1"},
        {"prefix": "FÉ"},
        {"running": 0},
        {"series": "O"},
        {"series": "AB"},
    ],
)
def test_a_number_cannot_be_made_from_parts_that_would_not_read_back(part: dict[str, str | int]) -> None:
    with pytest.raises(ValueError, match="must be"):
        make_number(**{"prefix": "FY", "year": 2026, "running": 1, **part})  # type: ignore[arg-type]
