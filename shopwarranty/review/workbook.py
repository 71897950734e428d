"""The review as XLSX: the sheets of the CSV files with typed cells, and what the page says in words first."""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any

import xlsxwriter
from django.utils.translation import gettext as _

from .exports import Cell, Sheet, curve_figures, effect_sheet, group_sheet
from .opened import Opened

# What a spreadsheet would take for a formula or an address stays the text that was typed.
AS_TYPED = {
    "in_memory": True,
    "strings_to_formulas": False,
    "strings_to_urls": False,
    "strings_to_numbers": False,
}


def workbook(page: Opened, figures: Mapping[str, Any], now: datetime) -> bytes:
    """Figures unrounded, as in JSON; empty where nothing can be said. `now` is when it was written."""
    sheets = (
        Sheet("answer", ("",), [[text] for text in _words(figures)]),
        *(() if figures["surface"] else (effect_sheet(page.found, page.words),)),
        group_sheet(page.found, page.words, page.installers),
        curve_figures(page.found, page.words),
    )
    file = io.BytesIO()
    with xlsxwriter.Workbook(file, AS_TYPED) as book:
        book.set_properties({"title": _("Failure review"), "author": page.words.shop.name, "created": now})
        heads, wrapped = book.add_format({"bold": True}), book.add_format({"text_wrap": True})
        for sheet in sheets:
            _write(book.add_worksheet(sheet.name), sheet, heads, wrapped)
    return file.getvalue()


def _words(figures: Mapping[str, Any]) -> Iterator[str]:
    exploring = _("Exploring: narrowed down. Estimates only, no verdicts.")
    yield from ([exploring, *figures["narrowed"]] if figures["exploring"] else ())
    yield f"{figures['family']}: {figures['answer'].heading}"
    for line in figures["answer"].lines:
        yield " ".join(figure.text for figure in line)
    yield from (step.text for step in figures["steps"])
    yield from (caveat.text for caveat in figures["caveats"])
    yield from figures["rule"]


def _write(page: Any, sheet: Sheet, heads: Any, wrapped: Any) -> None:
    page.write_row(0, 0, sheet.head, heads)
    for row, cells in enumerate(sheet.rows, start=1 if any(sheet.head) else 0):
        for column, cell in enumerate(cells):
            _cell(page, row, column, cell, wrapped if sheet.name == "answer" else None)
    if sheet.name == "answer":
        page.set_column(0, 0, 100)
        return
    page.freeze_panes(1, 3)
    page.autofilter(0, 0, max(1, len(sheet.rows)), len(sheet.head) - 1)
    page.autofit()


def _cell(page: Any, row: int, column: int, cell: Cell, style: Any) -> None:
    if isinstance(cell, str) and cell:
        page.write_string(row, column, cell, style)
    elif not isinstance(cell, str) and cell is not None:
        page.write_number(row, column, cell)
