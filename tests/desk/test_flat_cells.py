"""One cell: text to value in SI and back."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopwarranty.desk.flat.cells import CellRefused, Style, parser_of, written
from shopwarranty.desk.flat.columns import Column, Kind, Unit
from shopwarranty.desk.flat.entries import join_entries, split_entries
from shopwarranty.desk.flat.finding_columns import FINDING_COLUMNS
from shopwarranty.desk.flat.guarding import guard, unguard
from shopwarranty.desk.flat.job_columns import JOB_COLUMNS
from shopwarranty.desk.flat.records import Entry

NEW_YORK = Style(ZoneInfo("America/New_York"))
SEMICOLONS = Style(ZoneInfo("UTC"), decimal_comma=True)
COLUMNS: dict[str, Column] = {column.name: column for column in (*JOB_COLUMNS, *FINDING_COLUMNS)}


def read(name: str, text: str, unit: Unit | None = None, style: Style = NEW_YORK) -> object:
    return parser_of(COLUMNS[name], unit, style)(text)


def refusal(name: str, text: str, unit: Unit | None = None, style: Style = NEW_YORK) -> CellRefused:
    with pytest.raises(CellRefused) as refused:
        read(name, text, unit, style)
    return refused.value


@pytest.mark.parametrize(
    ("name", "text", "unit", "stored"),
    [
        # F = C x 9/5 + 32 and 1 in = 25.4 mm, exact by definition (NIST SP 811, appendix B)
        ("post_heat_c", "203", Unit.FAHRENHEIT, 95.0),
        ("post_heat_c", "95", Unit.CELSIUS, 95.0),
        ("air_c", "68", Unit.FAHRENHEIT, 20.0),
        ("air_c", "-40", Unit.FAHRENHEIT, -40.0),
        ("wrap_in_wanted_mm", "0.3", Unit.INCH, 7.62),
        ("cut_along", "52", Unit.INCH, 1320.8),
    ],
)
def test_the_header_says_the_unit_and_si_is_stored(name: str, text: str, unit: Unit, stored: float) -> None:
    assert read(name, text, unit) == stored


def test_a_comma_is_the_decimal_mark_only_where_semicolons_part_the_cells() -> None:
    assert read("air_c", "20,5", Unit.CELSIUS, SEMICOLONS) == 20.5
    assert refusal("air_c", "20,5", Unit.CELSIUS).remedy.startswith("Write digits with a decimal point")
    assert refusal("cut_along", "1,234", Unit.MM, SEMICOLONS).remedy == "Write 1234 or 1.234."


def test_a_moment_carries_its_offset_and_a_bare_day_means_its_noon_in_the_shops_zone() -> None:
    assert read("finished_at", "2025-03-14T16:30-04:00") == datetime(2025, 3, 14, 20, 30, tzinfo=UTC)
    assert read("finished_at", "2025-03-14 16:30:05Z") == datetime(2025, 3, 14, 16, 30, 5, tzinfo=UTC)
    assert read("finished_at", "2025-03-14") == datetime(2025, 3, 14, 16, 0, tzinfo=UTC)
    assert refusal("finished_at", "2025-03-14T16:30").problem == "has no offset from UTC."


@pytest.mark.parametrize("text", ["14.03.2025", "2025-02-29", "20250314", "2025-W11-5", "3025-01-01", "soon"])
def test_what_is_no_iso_day_is_refused_with_an_example(text: str) -> None:
    refused = refusal("handed_over_on", text)
    assert "2026-11-25" in refused.remedy or refused.remedy == "Check the year."


@pytest.mark.parametrize("text", ["nan", "inf", "1e999", "0x10", "1_000", "½", "12 mm", "--1", "9" * 60])
def test_what_is_no_number_is_refused(text: str) -> None:
    assert refusal("air_c", text, Unit.CELSIUS).problem


def test_numbers_outside_what_a_column_holds_are_refused_with_its_range() -> None:
    assert refusal("humidity", "140", Unit.PERCENT).remedy == "Write a number from 0 to 100."
    assert refusal("passes", "1.5").problem == "is no whole number."
    assert refusal("passes", "40000").problem == "lies outside what this column holds."
    assert refusal("cut_along", "-1", Unit.MM).problem == "lies outside what this column holds."


def test_words_are_read_in_any_case_and_with_spaces_and_others_are_refused_with_the_list() -> None:
    assert read("post_heated_basis", "By method") == "by_method"
    assert read("film_family", "clear protective") == "clear-protective"
    assert refusal("laid", "damp").remedy == "Write one of: dry, wet, mixed."


def test_yes_no_is_yes_or_no_and_nothing_else() -> None:
    assert (read("post_heated", "YES"), read("post_heated", "no")) == (True, False)
    assert "not recorded" in refusal("post_heated", "1").remedy


def test_texts_keep_to_their_length_and_hold_no_nul() -> None:
    assert refusal("plate", "X" * 21).problem == "longer than 20 characters."
    assert refusal("plate", "A\0B").problem == "holds a character that is no text."


@given(st.text())
def test_a_guarded_text_comes_back_and_never_begins_like_a_formula(text: str) -> None:
    assert unguard(guard(text)) == text
    assert not guard(text).startswith(("=", "+", "-", "@", "\t", "\r", "＝"))


def test_numbers_stay_numbers_and_texts_that_look_like_formulas_do_not() -> None:
    assert written(-3.5) == "-3.5"
    assert written("=1+1") == "'=1+1"
    assert written("-12") == "'-12"
    assert written("it's") == "it's"


@given(st.lists(st.tuples(st.text(min_size=1), st.text()), max_size=4))
def test_entries_of_a_cell_come_back_whatever_they_hold(pairs: list[tuple[str, str]]) -> None:
    entries = tuple(Entry(head.strip(), note.strip()) for head, note in pairs if head.strip())
    assert split_entries(join_entries(entries)) == entries


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_every_number_is_read_back_as_it_was_written(value: float) -> None:
    assert read("air_c", written(value), Unit.CELSIUS) == value


@given(st.integers(631_152_000_000_000, 4_102_444_800_000_000))  # 1990 to 2100, in microseconds
def test_every_moment_is_read_back_to_the_second(microseconds: int) -> None:
    at = datetime.fromtimestamp(0, tz=UTC) + timedelta(microseconds=microseconds)
    assert read("finished_at", written(at)) == at.replace(microsecond=0)


def test_days_and_sums_are_written_plainly() -> None:
    assert written(date(2025, 3, 14)) == "2025-03-14"
    assert written(Decimal("12.5")) == "12.50"
    assert read("remedy_cost", "12.5") == Decimal("12.50")
    assert refusal("remedy_cost", "12.505").problem == "is no sum of money."


def test_every_kind_of_column_has_something_that_reads_it() -> None:
    assert {column.kind for column in COLUMNS.values()} == set(Kind)
    for column in COLUMNS.values():
        for unit in column.headers.values():
            assert callable(parser_of(column, unit, NEW_YORK))
