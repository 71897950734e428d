"""The page's figures as CSV and as a workbook: unrounded, sums exact, empty where nothing can be said."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

import xlsxwriter
from django.utils.translation import gettext as _

from shopwarranty.analysis.claim_rates import AgeRate
from shopwarranty.analysis.forecast import Forecast
from shopwarranty.shops.models import Shop

from ..exports import Cell, Sheet, as_csv
from ..words import Words
from ..workbook import AS_TYPED
from .behind import cause_name
from .counting import Spent
from .page import Page, Worked

AGES_HEAD = (
    "first_month",
    "last_month",
    *(
        f"{what}_{name}"
        for what in ("claims", "remedies")
        for name in ("counted", "job_months", "per_100_jobs", "low", "high")
    ),
)
COSTS_HEAD = ("by", "key", "name", "remedies", "without_cost", "cost", "currency")
AHEAD_HEAD = ("what", "mean", "low", "high", "level", "jobs_in_service", "job_months_ahead", "why_not")


@dataclass(frozen=True, slots=True)
class MoneySheet:
    """A sheet with exact sums in column `at`."""

    name: str
    head: Sequence[str]
    rows: Sequence[Sequence[Cell | Decimal]]


def age_sheet(worked: Worked) -> Sheet:
    rows = []
    for claim, remedy in zip(worked.claims.lines, worked.remedies.lines, strict=True):
        months = (claim.band.first + 1, (claim.band.last or claim.band.first) + 1)
        rows.append([*months, *_rate_cells(claim), *_rate_cells(remedy)])
    return Sheet("by age", AGES_HEAD, rows)


def _rate_cells(one: AgeRate) -> list[Cell]:
    if one.rate is None or one.interval is None:
        return [one.events, one.exposure, None, None, None]
    rates = (one.rate, one.interval.low, one.interval.high)
    return [one.events, one.exposure, *(100 * value for value in rates)]


def cost_sheet(worked: Worked, shop: Shop, words: Words) -> MoneySheet:
    lines = [("panel", one, words.panel(one.key)) for one in worked.panels]
    lines += [("cause", one, cause_name(one.key)) for one in worked.causes]
    lines.append(("all", worked.total, ""))
    return MoneySheet("cost", COSTS_HEAD, [_spent_cells(by, one, name, shop) for by, one, name in lines])


def _spent_cells(by: str, one: Spent, name: str, shop: Shop) -> list[Cell | Decimal]:
    return [by, one.key, name, one.remedies, one.without, one.total, shop.currency]


def ahead_sheet(worked: Worked) -> Sheet:
    found = worked.ahead
    rows = [_ahead_cells("claims", found.claims), _ahead_cells("remedies", found.remedies)]
    service = [found.remedies.in_service, found.remedies.ahead]
    if found.cost:
        ends = found.cost.interval
        rows.append(["cost", found.cost.mean, ends.low, ends.high, 0.9, *service, ""])
    else:
        rows.append(["cost", None, None, None, 0.9, *service, _("cannot tell yet")])
    return Sheet("12 months ahead", AHEAD_HEAD, rows)


def _ahead_cells(what: str, one: Forecast) -> list[Cell]:
    service = [one.in_service, one.ahead]
    if one.counted is None:
        return [what, None, None, None, 0.9, *service, "; ".join(why.value for why in one.why)]
    ends = one.counted.interval
    return [what, one.counted.mean, ends.low, ends.high, 0.9, *service, ""]


def ages_csv(worked: Worked) -> str:
    return as_csv(age_sheet(worked))


def costs_csv(worked: Worked, shop: Shop, words: Words) -> str:
    """Sums as exact decimals, with a point."""
    sheet = cost_sheet(worked, shop, words)
    rows = [[str(cell) if isinstance(cell, Decimal) else cell for cell in row] for row in sheet.rows]
    return as_csv(Sheet(sheet.name, sheet.head, rows))


def workbook(worked: Worked, page: Page, shop: Shop, words: Words, now: datetime) -> bytes:
    told = [page.heading, *(one.text for one in page.lead), *page.ahead.notes, *page.notes]
    sheets: tuple[Sheet | MoneySheet, ...] = (
        Sheet("answer", ("",), [[text] for text in told]),
        age_sheet(worked),
        cost_sheet(worked, shop, words),
        ahead_sheet(worked),
    )
    file = io.BytesIO()
    with xlsxwriter.Workbook(file, AS_TYPED) as book:
        book.set_properties({"title": _("What the promises cost"), "author": shop.name, "created": now})
        heads, sums = book.add_format({"bold": True}), book.add_format({"num_format": "#,##0.00"})
        for sheet in sheets:
            _write(book.add_worksheet(sheet.name), sheet, heads, sums)
    return file.getvalue()


def _write(page: Any, sheet: Sheet | MoneySheet, heads: Any, sums: Any) -> None:
    page.write_row(0, 0, sheet.head, heads)
    for row, cells in enumerate(sheet.rows, start=1 if any(sheet.head) else 0):
        for column, cell in enumerate(cells):
            if isinstance(cell, str) and cell:
                page.write_string(row, column, cell)
            elif isinstance(cell, Decimal):
                page.write_number(row, column, cell, sums)
            elif cell is not None and not isinstance(cell, str):
                page.write_number(row, column, cell)
    if any(sheet.head):
        page.freeze_panes(1, 0)
    page.autofit()
