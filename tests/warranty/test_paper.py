"""The PDF as others read it: pdffonts, qpdf, zbarimg, pypdf. Skipped where a program is missing."""

import io
import shutil
import subprocess
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from pypdf import PdfReader

from shopwarranty.shops.scope import shop_scope
from shopwarranty.warranty.certificate_pdf import render
from shopwarranty.warranty.logo import set_logo
from shopwarranty.warranty.memory_fetcher import MemoryFetcher, NotInMemory
from shopwarranty.warranty.preparing import logo_of, preview_of
from shopwarranty.warranty.snapshot_parts import Snapshot, read_snapshot
from tests.conftest import NOW, World
from tests.warranty.conftest import TODAY, Yard, make_yard

NAMES = {
    "arabic": "محمد عبد الله الهاشمي",
    "vietnamese": "Nguyễn Thị Hằng Đặng Ỷ",
    "emoji": "Mia 🚗 Sample 🙂",
    "chinese": "王小明",
    "korean": "김철수",
    "hebrew": "שלום כהן",
    "long": "Maximiliane Wilhelmina von und zu Hohenbeispielhausen-Musterkirchen " * 2,
}


def needs(program: str) -> str:
    found = shutil.which(program)
    if not found:
        pytest.skip(f"{program} is not installed")
    return found


def run(*argv: str) -> str:
    return subprocess.run(argv, check=True, capture_output=True, text=True).stdout


def as_file(folder: Path, content: bytes) -> str:
    path = folder / "certificate.pdf"
    path.write_bytes(content)
    return str(path)


@pytest.fixture
def snapshot(yard: Yard, codes: Callable[[], str]) -> Snapshot:
    return read_snapshot(yard.issue(code=codes).snapshot)


def test_the_same_snapshot_gives_the_same_bytes(snapshot: Snapshot) -> None:
    assert render(snapshot) == render(snapshot)


def test_the_square_leads_to_the_public_page(snapshot: Snapshot, tmp_path: Path) -> None:
    """Decoded by an independent reader from a picture of the page."""
    pdftoppm, zbarimg = needs("pdftoppm"), needs("zbarimg")
    path = as_file(tmp_path, render(snapshot))
    run(pdftoppm, "-r", "150", "-png", "-f", "1", "-l", "1", path, str(tmp_path / "page"))
    picture = next(tmp_path.glob("page*.png"))
    assert run(zbarimg, "--raw", "-q", str(picture)).strip() == snapshot.url
    assert snapshot.url.endswith(f"/certificate/{snapshot.number}/{snapshot.code}/")


def test_the_file_is_sound_and_every_font_is_embedded(snapshot: Snapshot, tmp_path: Path) -> None:
    qpdf, pdffonts = needs("qpdf"), needs("pdffonts")
    path = as_file(tmp_path, render(snapshot))
    assert "No syntax or stream encoding errors" in run(qpdf, "--check", path)
    rows = run(pdffonts, path).splitlines()[2:]
    assert rows
    assert all(row.split()[-5] == "yes" for row in rows), rows
    assert all("Liberation" in row or "Noto" in row for row in rows), rows


def test_it_is_tagged_titled_and_in_its_language(snapshot: Snapshot) -> None:
    reader = PdfReader(io.BytesIO(render(snapshot)))
    root: Any = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en"
    assert snapshot.number in (reader.metadata.title or "")  # type: ignore[union-attr]
    tags = tags_below(root["/StructTreeRoot"])
    assert {"/H1", "/H2", "/Table", "/TH", "/L", "/Figure"} <= {tag for tag, _words in tags}
    assert all(words for tag, words in tags if tag == "/Figure")


def tags_below(node: Any) -> list[tuple[str, str]]:
    """Every tag of the structure tree with its alternative text."""
    node = node.get_object() if hasattr(node, "get_object") else node
    if isinstance(node, list):
        return [found for each in node for found in tags_below(each)]
    if not isinstance(node, dict):
        return []
    own = [(str(node["/S"]), str(node.get("/Alt", "")))] if "/S" in node else []
    return own + (tags_below(node["/K"]) if "/K" in node else [])


@pytest.mark.parametrize("script", NAMES)
def test_E50_a_name_in_any_common_script_prints_without_boxes(
    snapshot: Snapshot, tmp_path: Path, script: str
) -> None:
    pdffonts = needs("pdffonts")
    named = replace(snapshot, holder=replace(snapshot.holder, name=NAMES[script]))
    content = render(named)
    text = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages)
    rows = run(pdffonts, as_file(tmp_path, content)).splitlines()[2:]
    assert all(row.split()[-5] == "yes" for row in rows)
    assert "\ufffd" not in text
    if script in ("vietnamese", "chinese", "korean"):
        assert NAMES[script].split()[0] in text


@pytest.mark.parametrize("name", NAMES.values())
def test_the_bundled_fonts_have_every_sign_of_these_names(name: str) -> None:
    from shopwarranty.warranty.coverage import unprintable

    assert unprintable(name) == ()


def test_a_sign_no_font_has_is_named() -> None:
    from shopwarranty.warranty.coverage import unprintable

    assert unprintable("A \U00012000") == ("\U00012000",)


def test_E51_every_page_repeats_number_vin_and_how_many_pages_there_are(snapshot: Snapshot) -> None:
    sixty = tuple(
        replace(snapshot.panels[n % 8], key=f"own-{n}", name=f"panel number {n}") for n in range(60)
    )
    pages = PdfReader(io.BytesIO(render(replace(snapshot, panels=sixty)))).pages
    assert len(pages) >= 3
    for number, page in enumerate(pages, 1):
        text = " ".join(page.extract_text().split())
        assert f"{snapshot.number}, VIN ends 000123" in text
        assert f"page {number} of {len(pages)}" in text
    whole = " ".join(page.extract_text() for page in pages)
    assert all(f"Panel number {n}" in whole for n in range(60))


def test_us_shops_print_on_letter_and_others_on_a4(snapshot: Snapshot, world: World) -> None:
    def size(content: bytes) -> tuple[int, int]:
        box = PdfReader(io.BytesIO(content)).pages[0].mediabox
        return round(box.width), round(box.height)

    assert size(render(snapshot)) == (612, 792)
    with shop_scope(world.theirs.shop):
        theirs = make_yard(world.theirs)
        built = preview_of(job=theirs.job(), plan_version=theirs.plan, handed_over_on=TODAY, now=NOW)
    assert size(render(built.snapshot, preview=True)) == (595, 842)


def test_a_preview_says_on_every_page_that_it_is_not_issued(yard: Yard) -> None:
    built = preview_of(job=yard.job(), plan_version=yard.plan, handed_over_on=TODAY, now=NOW)
    pages = PdfReader(io.BytesIO(render(built.snapshot, preview=True))).pages
    assert all("not issued" in page.extract_text() for page in pages)


def test_nothing_but_what_was_given_is_fetched(snapshot: Snapshot, monkeypatch: pytest.MonkeyPatch) -> None:
    """A reference to a file or a host ends the rendering; it does not just vanish from the page."""
    from shopwarranty.warranty import certificate_pdf

    for wanted in ("file:///etc/hostname", "http://127.0.0.1:9/x.png", "data:image/png;base64,AAAA"):
        page = f'<html lang="en"><title>x</title><img alt="x" src="{wanted}"></html>'
        monkeypatch.setattr(certificate_pdf, "render_to_string", lambda *a, page=page: page)
        with pytest.raises(NotInMemory):
            render(snapshot)
    with pytest.raises(BaseException, match="refused"):
        MemoryFetcher({}).fetch("memory:nothing")


def test_words_of_a_person_are_never_markup(snapshot: Snapshot) -> None:
    trick = '<img src="file:///etc/hostname"><script>x</script>'
    named = replace(snapshot, holder=replace(snapshot.holder, name=trick))
    text = PdfReader(io.BytesIO(render(named))).pages[0].extract_text()
    assert "<script>" in text


def test_a_logo_is_cleaned_before_it_is_printed(yard: Yard, snapshot: Snapshot) -> None:
    picture = io.BytesIO()
    Image.new("RGB", (640, 160), "#1b2f3c").save(picture, "PNG")
    set_logo(shop=yard.shop, sent=picture.getvalue() + b"appended", actor=yard.actor, now=NOW)
    logo = logo_of(yard.shop)
    assert logo.startswith(b"\xff\xd8")
    assert b"appended" not in logo
    with_logo = PdfReader(io.BytesIO(render(snapshot, logo=logo)))
    assert len(with_logo.pages[0].images) == 1


def test_unknown_stays_unknown_on_paper(yard: Yard, snapshot: Snapshot) -> None:
    """Not recorded is neither "0 of 6" nor an empty cell."""
    from shopwarranty.warranty.snapshot_parts import Heated

    piece = replace(
        snapshot.panels[0].pieces[0],
        heated=Heated(not_recorded=6),
        wrap_in_least_mm=None,
        wrap_in_most_mm=None,
    )
    shown = replace(snapshot, panels=(replace(snapshot.panels[0], pieces=(piece,)),))
    text = PdfReader(io.BytesIO(render(shown))).pages[-1].extract_text()
    assert text.count("Not recorded") == 2
