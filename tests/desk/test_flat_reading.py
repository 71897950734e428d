"""Files as they come from elsewhere: encodings, separators, line ends, quotes, headers."""

import codecs
from pathlib import Path

import pytest

from shopwarranty.jobs.models import Job, Vehicle
from shopwarranty.shops.scope import shop_scope
from tests.conftest import World

from .flat_files import a_look, a_row, exported, faults_of, files, rows_of, table, take_in

PLAIN = [a_row(), a_row(place="left", colour='grey;blue, with a "quote"\nand a line')]
PLAIN[0]["colour"] = PLAIN[1]["colour"]


@pytest.mark.parametrize("delimiter", [",", ";"])
@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_separators_line_ends_and_a_byte_order_mark_make_no_difference(
    world: World, tmp_path: Path, delimiter: str, line_end: str, mark: str
) -> None:
    found = files(tmp_path, mark + table(PLAIN, delimiter, line_end))
    outlook = take_in(found, world.ours.shop)
    assert (outlook.jobs_new, outlook.places) == (1, 2)
    with shop_scope(world.ours.shop):
        assert Vehicle.objects.get().colour == 'grey;blue, with a "quote"\nand a line'


def test_names_in_any_script_arrive_as_they_were(world: World, tmp_path: Path) -> None:
    names = ["Đặng Thị", "العربية", "Ünal", "🚗"]
    rows = [a_row(job_ref=f"P-{n}", holder=name) for n, name in enumerate(names)]
    take_in(files(tmp_path, rows), world.ours.shop)
    assert [row["holder"] for row in rows_of(exported(world.ours.shop)[0])] == names


def test_text_that_is_no_utf8_names_its_first_line(world: World, tmp_path: Path) -> None:
    found = files(tmp_path, [a_row()])
    found.jobs.write_bytes(found.jobs.read_bytes() + "P-2,süß\n".encode("latin-1"))
    assert faults_of(found, world.ours.shop) == [
        "jobs.csv, line 3: This is not UTF-8. Save the file as CSV in UTF-8."
    ]
    found.jobs.write_bytes(codecs.BOM_UTF16_LE + "job_ref".encode("utf-16-le"))
    assert faults_of(found, world.ours.shop) == ["jobs.csv: This is UTF-16. Save it as CSV in UTF-8."]


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("", "jobs.csv, line 1: The file is empty. Its first line is the header."),
        (
            "job_ref,body_style,colr\n",
            "jobs.csv, line 1, column colr: There is no such column. Did you mean colour?",
        ),
        (
            "job_ref,body_style,air_c,air_f\n",
            "jobs.csv, line 1, column air_f: The column is there twice. Keep one of them.",
        ),
        (
            "body_style,job_ref\n",
            "jobs.csv, line 1, column body_style: The first column is job_ref. Move it there.",
        ),
        ("job_ref,body_style,,\n", "jobs.csv, line 1: Column 3 has no name. Name it, or take it out."),
        ("job_ref,panel\n", "jobs.csv, line 1, column body_style: The column is missing. Add it."),
        (
            "job_ref,body_style,field:tool\n",
            "jobs.csv, line 1, column field:tool: The shop has no such field. Add it under Methods, or write "
            "field:key:level:kind:unit:name in the header.",
        ),
        (
            "job_ref,body_style,field:tool:roof:number\n",
            "jobs.csv, line 1, column field:tool:roof:number: This names no field. Write field:key, or "
            "field:key:level:kind:unit:name.",
        ),
        (
            "job_ref,body_style\nP-1,suv,grey\n",
            "jobs.csv, line 2: 3 cells where the header has 2. Put texts that hold separators in quotes.",
        ),
        (
            'job_ref,body_style\nP-1,"suv\n',
            "jobs.csv, line 2: is no row of a table: unexpected end of data. Look at the quotation marks.",
        ),
    ],
)
def test_a_file_of_another_make_is_refused_where_it_is_wrong(
    world: World, tmp_path: Path, text: str, fault: str
) -> None:
    assert fault in faults_of(files(tmp_path, text), world.ours.shop)


def test_empty_rows_and_rows_of_mere_separators_are_passed_over(world: World, tmp_path: Path) -> None:
    text = table([a_row()]) + "\n,,,,,,,,\n\n"
    assert take_in(files(tmp_path, text), world.ours.shop).job_rows == 1


def test_lines_are_counted_as_an_editor_counts_them_also_after_texts_with_line_ends(
    world: World, tmp_path: Path
) -> None:
    rows = [a_row(job_note="one\ntwo\nthree"), a_row(job_ref="P-2", job_note="", place="nowhere")]
    (fault,) = faults_of(files(tmp_path, rows), world.ours.shop)
    assert fault.startswith("jobs.csv, line 5, column place: “nowhere”: There is no such place")


def test_a_guarded_formula_is_text_again_in_the_shop_and_guarded_in_its_export(
    world: World, tmp_path: Path
) -> None:
    take_in(files(tmp_path, [a_row(job_ref="'=1+1", job_note="'@evil")]), world.ours.shop)
    with shop_scope(world.ours.shop):
        assert list(Job.objects.values_list("ref", "note")) == [("=1+1", "@evil")]
    (row,) = rows_of(exported(world.ours.shop)[0])
    assert (row["job_ref"], row["job_note"]) == ("'=1+1", "'@evil")


def test_the_findings_file_is_held_to_the_same_rules(world: World, tmp_path: Path) -> None:
    found = files(tmp_path, [a_row()], "job_ref,visit_on\nP-1,2025-03-28\n")
    faults = faults_of(found, world.ours.shop)
    missing = ("origin", "panel", "place", "result")
    assert faults == [
        f"findings.csv, line 1, column {name}: The column is missing. Add it." for name in missing
    ]
    assert faults_of(files(tmp_path, [a_row()], [a_look()]), world.ours.shop) == []
