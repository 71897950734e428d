"""The review's files as other programs read them: tables of HTML, text of PDF, cells of a workbook."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator
from html.parser import HTMLParser
from typing import Any
from xml.etree import ElementTree

from pypdf import PdfReader

from tests.conftest import ShopPeople

MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
VOID = frozenset({"br", "img", "input", "meta", "link", "path"})


class HtmlRows(HTMLParser):
    """`rows`: (class of the table, texts of the cells) of every row, in order."""

    def __init__(self) -> None:
        super().__init__()
        self.rows: list[tuple[str, list[str]]] = []
        self.table, self.cell = "", False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "table":
            self.table = dict(attrs).get("class") or ""
        elif tag == "tr":
            self.rows.append((self.table, []))
        elif tag in ("td", "th") and self.rows:
            self.cell = True
            self.rows[-1][1].append("")
        elif self.cell and tag not in VOID:
            self.rows[-1][1][-1] += " "

    def handle_endtag(self, tag: str) -> None:
        if tag in ("td", "th"):
            self.cell = False

    def handle_data(self, text: str) -> None:
        if self.cell:
            self.rows[-1][1][-1] += text


def html_rows(content: str, table: str) -> list[list[str]]:
    parser = HtmlRows()
    parser.feed(content)
    return [[" ".join(cell.split()) for cell in cells] for name, cells in parser.rows if name == table]


def pdf_text(content: bytes) -> str:
    """All pages, without regard to where lines end."""
    pages = PdfReader(io.BytesIO(content)).pages
    return squeezed(" ".join(page.extract_text() for page in pages))


def squeezed(text: str) -> str:
    """Line ends, and hyphens and spaces a line end may take the place of, do not count."""
    return re.sub(r"\s+", "", text)


def workbook_rows(content: bytes) -> dict[str, list[dict[str, Any]]]:
    """Rows by sheet and by header, from the XML itself (ECMA-376, part 1, 18.3)."""
    book = zipfile.ZipFile(io.BytesIO(content))
    shared = ["".join(t.text or "" for t in si.iter(f"{MAIN}t")) for si in _xml(book, "sharedStrings")]
    names = [sheet.attrib["name"] for sheet in _xml(book, "workbook").iter(f"{MAIN}sheet")]
    found = {}
    for number, name in enumerate(names, start=1):
        rows = [
            dict(_cells(row, shared)) for row in _xml(book, f"worksheets/sheet{number}").iter(f"{MAIN}row")
        ]
        head = rows[0]
        found[name] = [{str(head.get(at, "")): cell for at, cell in row.items()} for row in rows]
    return found


def formulas(content: bytes) -> int:
    book = zipfile.ZipFile(io.BytesIO(content))
    sheets = [name for name in book.namelist() if name.startswith("xl/worksheets/")]
    return sum(len(list(ElementTree.fromstring(book.read(name)).iter(f"{MAIN}f"))) for name in sheets)


def _xml(book: zipfile.ZipFile, name: str) -> ElementTree.Element:
    return ElementTree.fromstring(book.read(f"xl/{name}.xml"))


def _cells(row: ElementTree.Element, shared: list[str]) -> Iterator[tuple[str, str | float]]:
    for cell in row.iter(f"{MAIN}c"):
        value = cell.find(f"{MAIN}v")
        if value is not None and value.text is not None:
            column = cell.attrib["r"].rstrip("0123456789")
            text = cell.attrib.get("t") == "s"
            yield column, shared[int(value.text)] if text else float(value.text)


def fetched(people: ShopPeople, name: str, **asked: str) -> bytes:
    answer = people.client(people.owner).get(f"/s/{people.shop.slug}/review/{name}", asked)
    assert answer.status_code == 200
    assert answer["Cache-Control"] == "private, no-store"
    content: bytes = answer.content
    return content
