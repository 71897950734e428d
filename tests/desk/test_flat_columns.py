"""One table of columns: what is read, written, kept and described are the same columns."""

from typing import Any

from shopwarranty.desk.flat.columns import Kind, Level, of_level
from shopwarranty.desk.flat.documentation import as_markdown, described_files
from shopwarranty.desk.flat.finding_columns import FINDING_COLUMNS
from shopwarranty.desk.flat.job_columns import JOB_COLUMNS
from shopwarranty.desk.flat.records import (
    FindingValues,
    JobValues,
    PanelValues,
    PieceValues,
    PlaceValues,
    VisitValues,
)
from shopwarranty.desk.flat.tables import COLUMNS
from shopwarranty.trade import technique

RECORDS: dict[Level, Any] = {
    Level.JOB: JobValues,
    Level.PANEL: PanelValues,
    Level.PIECE: PieceValues,
    Level.PLACE: PlaceValues,
    Level.VISIT: VisitValues,
    Level.FINDING: FindingValues,
}


def test_every_record_has_the_columns_of_its_level_in_their_order() -> None:
    for level, record in RECORDS.items():
        names = tuple(column.name for column in of_level((*JOB_COLUMNS, *FINDING_COLUMNS), level))
        assert record._fields == names, level


def test_no_header_means_two_columns_and_the_first_is_the_job() -> None:
    for columns in (JOB_COLUMNS, FINDING_COLUMNS):
        headers = [header for column in columns for header in column.headers]
        assert len(headers) == len(set(headers))
        assert columns[0].header == "job_ref"


def test_every_technique_field_of_the_trade_has_a_column_and_one_for_how_it_is_known() -> None:
    names = {(column.level.value, column.name) for column in JOB_COLUMNS}
    for field in technique.FIELDS:
        assert (field.level.value, field.key) in names
        assert (field.level.value, f"{field.key}_basis") in names


def test_temperatures_are_read_in_c_and_f_and_lengths_in_mm_and_in_and_written_in_si() -> None:
    headers = {column.name: list(column.headers) for column in JOB_COLUMNS}
    assert headers["post_heat_c"] == ["post_heat_temperature_c", "post_heat_temperature_f"]
    assert headers["wrap_in_wanted_mm"] == ["wrap_in_wanted_mm", "wrap_in_wanted_in"]
    assert headers["air_c"] == ["air_c", "air_f"]


def test_what_a_word_may_be_fits_into_its_column_of_the_database() -> None:
    longest = {
        name: getattr(model._meta.get_field(name), "max_length", None) or 0
        for model, names in COLUMNS.items()
        for name in names
    }
    for column in (*JOB_COLUMNS, *FINDING_COLUMNS):
        if column.kind is Kind.WORD and column.name in longest:
            assert max(map(len, column.words)) <= longest[column.name], column.name


def test_the_description_names_every_column_with_its_meaning() -> None:
    described = [column for file in described_files() for level in file.levels for column in level.columns]
    assert len(described) == len(JOB_COLUMNS) + len(FINDING_COLUMNS)
    assert all(column.meaning and column.holds for column in described)
    text = "\n".join(as_markdown())
    assert "| `post_heat_temperature_c / post_heat_temperature_f` | number | post-heat temperature |" in text
