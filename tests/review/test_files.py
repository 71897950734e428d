"""Page, PDF, workbook, CSV and JSON say the same to the digit; no name passes for a formula."""

import io
import zipfile
from typing import Any

import pytest
from pypdf import PdfReader

from shopwarranty.films.models import FilmProduct
from shopwarranty.review import said
from shopwarranty.shops.models import Member
from tests.conftest import NOW, ShopPeople

from . import files, reading
from .bulk import many_jobs

IN_FILES = tuple("failures edge_days rate low high shrunken shrunken_low shrunken_high p_worst3".split())


@pytest.fixture
def shop(ours: ShopPeople) -> ShopPeople:
    second = Member.objects.create(name="Second Installer", is_installer=True, joined_at=NOW)
    many_jobs(30, [ours.installer, second])
    return ours


def test_the_figures_of_all_five_agree_to_the_digit(shop: ShopPeople) -> None:
    answer = reading.page(shop)
    html = files.html_rows(answer.content.decode(), "groups")
    pdf = files.pdf_text(files.fetched(shop, "review.pdf"))
    sheet = {
        (r["table"], r["level"]): r
        for r in files.workbook_rows(files.fetched(shop, "review.xlsx"))["figures"]
    }
    rows = {(r["table"], r["level"]): r for r in reading.as_rows(shop, "figures")}
    groups = reading.as_json(shop)["groups"]
    compared = 0
    for table in answer.context["tables"]:
        by_level = {group["level"]: group for group in groups[table.name]}
        for line in table.lines:
            group = by_level[line.level]
            in_files(group, rows[table.name, line.level], sheet[table.name, line.level])
            cells = cells_of(line, group, rows[table.name, line.level], table)
            assert [line.name, *cells] in [[name_in(row[0], line), *row[1:]] for row in html], cells
            assert files.squeezed("".join(cells)) in pdf, cells
            compared += 1
    assert compared > 35


def name_in(cell: str, line: Any) -> str:
    """The first cell without the note below the name."""
    return cell.removesuffix(" ".join(line.note.split())).strip() if line.note else cell


def in_files(group: dict[str, Any], row: dict[str, str], cells: dict[str, Any]) -> None:
    """CSV and workbook hold the numbers of the JSON, not rounded ones."""
    for key in IN_FILES:
        assert row[key] == ("" if group[key] is None else str(group[key])), key
        assert cells.get(key) == (None if group[key] is None else pytest.approx(group[key], rel=1e-14)), key
    assert (cells["watched"], row["watched"]) == (group["edges"], str(group["edges"]))


def cells_of(line: Any, group: dict[str, Any], row: dict[str, str], table: Any) -> list[str]:
    """The cells of a line as they must read, from the numbers of the files alone."""
    days = ("14", "90", "365")
    cells = [
        said.count(group["failures"]) if group["edges"] else "–",
        f"{said.count(group['edges'])} of {said.count(int(row['places']))}",
        said.count(int(row["vehicles"])),
        said.years(group["edge_days"]),
        *(share_in(row, day, line.few) for day in days),
    ]
    if table.ranks:
        ratio = "too few to say" if line.few else "–"
        if line.ratio:
            ends = f"{said.times(group['shrunken_low'])} to {said.times(group['shrunken_high'])}"
            ratio = f"{said.times(group['shrunken'])} {ends}"
        cells.append(ratio)
    if table.says_worst:
        cells.append(said.chance(group["p_worst3"]) if line.worst3 else "–")
    return cells


def share_in(row: dict[str, str], day: str, few: bool) -> str:
    share, low, high = (row[f"failed_by_{day}{end}"] for end in ("", "_low", "_high"))
    if few or not high or (not share and float(high) >= 0.5):
        return "–"
    if not share:
        return f"none yet at most {said.percent(float(high))}"
    return f"{said.percent(float(share))} {said.percent(float(low))} to {said.percent(float(high))}"


def test_the_comparisons_of_all_five_agree_to_the_digit(shop: ShopPeople) -> None:
    answer = reading.page(shop)
    html = files.squeezed(str(files.html_rows(answer.content.decode(), "effects"))).replace("','", "")
    pdf = files.pdf_text(files.fetched(shop, "review.pdf"))
    found = reading.as_json(shop)["effects"]
    rows = reading.as_rows(shop, "effects")
    sheet = files.workbook_rows(files.fetched(shop, "review.xlsx"))["comparisons"][1:]
    assert len(found) == len(rows) == len(sheet) > 3
    for effect, row, cells in zip(found, rows, sheet, strict=True):
        for key, value in effect.items():
            if key != "verdict" and not isinstance(value, str):
                assert row[key] == ("" if value is None else str(value))
                assert cells.get(key) == (None if value is None else pytest.approx(value, rel=1e-14))
        assert cells["verdict"] == row["verdict"]
        between = f"{said.times(effect['low'])} to {said.times(effect['high'])}"
        counted = f"{said.count(effect['failures'])} of {said.count(effect['edges'])}"
        ratio = said.times(effect["hazard_ratio"])
        assert files.squeezed(f"{ratio}({between}){counted}") in html
        assert files.squeezed(f"{ratio}{between}{counted}") in pdf
        assert files.squeezed(row["verdict"]) in pdf


def test_the_curve_on_page_and_paper_is_that_of_the_workbook(shop: ShopPeople) -> None:
    answer = reading.page(shop)
    html = files.html_rows(answer.content.decode(), "shares")
    pdf = files.pdf_text(files.fetched(shop, "review.pdf"))
    curve = files.workbook_rows(files.fetched(shop, "review.xlsx"))["curve"][1:]
    whole = {int(row["day"]): row for row in curve if not row.get("factor")}
    cells = []
    for day in (14, 90, 365, 730):
        row = whole[day]
        ends = f"{said.percent(row['low'])} to {said.percent(row['high'])}"
        cells.append(f"{said.percent(row['failed'])} {ends}")
    assert ["All places", *cells] in html
    assert files.squeezed("".join(cells)) in pdf


def test_answer_steps_and_caveats_are_on_paper_word_for_word(shop: ShopPeople) -> None:
    answer = reading.page(shop)
    pdf = files.pdf_text(files.fetched(shop, "review.pdf"))
    said_here = [answer.context["answer"].heading, *(step.text for step in answer.context["steps"])]
    said_here += [caveat.text for caveat in answer.context["caveats"]]
    assert len(said_here) > 6
    for sentence in said_here:
        assert files.squeezed(sentence) in pdf, sentence


def test_the_pdf_is_tagged_has_its_fonts_and_says_which_page_of_how_many(shop: ShopPeople) -> None:
    reader: Any = PdfReader(io.BytesIO(files.fetched(shop, "review.pdf")))
    assert reader.trailer["/Root"]["/MarkInfo"]["/Marked"]
    assert reader.trailer["/Root"]["/Lang"]
    total = len(reader.pages)
    for number, page in enumerate(reader.pages, start=1):
        assert f"page {number} of {total}" in page.extract_text()
        for font in page["/Resources"]["/Font"].values():
            descriptor = font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"]
            assert {"/FontFile2", "/FontFile3"} & set(descriptor.get_object())


def test_a_name_that_looks_like_a_formula_stays_a_text(shop: ShopPeople) -> None:
    FilmProduct.objects.filter(name="Clear 8").update(maker="=1+1", name="@x")
    content = files.fetched(shop, "review.xlsx")
    assert files.formulas(content) == 0
    levels = {row["level"] for row in files.workbook_rows(content)["figures"]}
    assert any(str(level).startswith("=1+1") for level in levels)
    row = next(row for row in reading.as_rows(shop, "figures") if "=1+1" in row["level"])
    assert row["level"].startswith("'=")


def test_a_narrowed_file_says_what_it_leaves_out_and_gives_no_verdict(shop: ShopPeople) -> None:
    asked = {"body": "suv", "since": "2024-01-01"}
    pdf = files.pdf_text(files.fetched(shop, "review.pdf", **asked))
    assert files.squeezed("Estimates only, no verdicts.") in pdf
    assert files.squeezed("Only SUV.") in pdf
    assert files.squeezed("Finished on January 1, 2024 or later.") in pdf
    for phrase in ("Goes with more", "Goes with fewer", "Cannot tell yet", "Cannot be told apart from"):
        assert files.squeezed(phrase) not in pdf
    sheets = files.workbook_rows(files.fetched(shop, "review.xlsx", **asked))
    assert all("verdict" not in row for row in sheets["comparisons"][1:])
    assert "no verdicts" in str(sheets["answer"][0])


def test_the_surface_and_a_shop_without_failures_have_their_files_too(ours: ShopPeople) -> None:
    many_jobs(3, [ours.installer])
    for asked in ({}, {"part": "surface"}):
        assert files.fetched(ours, "review.pdf", **asked).startswith(b"%PDF-")
        assert zipfile.is_zipfile(io.BytesIO(files.fetched(ours, "review.xlsx", **asked)))


def test_a_shop_without_lives_gets_files_that_say_so(ours: ShopPeople) -> None:
    pdf = files.pdf_text(files.fetched(ours, "review.pdf"))
    assert files.squeezed("Nothing can be said yet.") in pdf
    assert "answer" in files.workbook_rows(files.fetched(ours, "review.xlsx"))


def test_installers_are_in_no_file_of_those_who_may_not_see_them(shop: ShopPeople) -> None:
    assert "SecondInstaller" not in files.pdf_text(files.fetched(shop, "review.pdf"))
    sheets = files.workbook_rows(files.fetched(shop, "review.xlsx"))
    assert all(row["table"] != "installer" for row in sheets["figures"])
    assert "Second Installer" not in str(sheets)
