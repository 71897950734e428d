"""The review's tables for files: figures as in JSON, unrounded, empty where nothing can be said."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass

from shopwarranty.analysis.curve import ShareFailed
from shopwarranty.analysis.groups import GroupFigure
from shopwarranty.analysis.proportions import Interval
from shopwarranty.analysis.review_json import as_object

from .effect_lines import verdict_words
from .reviewing import SHARE_DAYS, TABLES, ShopReview
from .tables import shown
from .words import Words

Cell = str | int | float | None
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")

GROUP_HEAD = (
    "table",
    "level",
    "name",
    "places",
    "never_looked_at",
    "watched",
    "vehicles",
    "vehicles_failed",
    "failures",
    "edge_days",
    "rate",
    "low",
    "high",
    *(f"failed_by_{day}{end}" for day in SHARE_DAYS for end in ("", "_low", "_high")),
    "expected",
    "shrunken",
    "shrunken_low",
    "shrunken_high",
    "p_worst3",
)


@dataclass(frozen=True, slots=True)
class Sheet:
    name: str
    head: Sequence[str]
    rows: Sequence[Sequence[Cell]]


def group_sheet(found: ShopReview, words: Words, installers: frozenset[str]) -> Sheet:
    """One line a level of every table; of installers those this reader may see."""
    rows = [_group_row(name, figure, words) for name in TABLES for figure in shown(found, name, installers)]
    return Sheet("figures", GROUP_HEAD, rows)


def _group_row(table: str, figure: GroupFigure, words: Words) -> list[Cell]:
    return [
        table,
        figure.level,
        words.level(table, figure.level),
        figure.edges + figure.never_seen,
        figure.never_seen,
        figure.edges,
        figure.vehicles,
        figure.vehicles_failed,
        figure.failures,
        figure.edge_days,
        figure.rate,
        *_ends(figure.rate_interval),
        *(cell for share in figure.shares for cell in _share(share)),
        figure.expected,
        figure.shrunken,
        *_ends(figure.shrunken_interval),
        figure.p_worst3,
    ]


def _ends(interval: Interval | None) -> tuple[Cell, Cell]:
    return (None, None) if interval is None else (interval.low, interval.high)


def _share(share: ShareFailed | None) -> tuple[Cell, Cell, Cell]:
    """Before the first failure was found only the upper limit is said."""
    if share is None:
        return None, None, None
    return (None, None, share.high) if share.limit_only else (share.estimate, share.low, share.high)


def effect_sheet(found: ShopReview, words: Words) -> Sheet:
    """One line a comparison; the verdict is left out of a review that was narrowed down."""
    said = as_object(found.review)["effects"]
    rows: list[list[Cell]] = []
    for effect, one in zip(found.review.effects, said, strict=True):
        verdict = "" if found.selection.exploring else verdict_words(effect, words)
        rows.append([*(value for key, value in one.items() if key != "verdict"), verdict])
    keys = list(said[0]) if said else ["factor", "level", "reference", "verdict"]
    return Sheet("comparisons", [*(key for key in keys if key != "verdict"), "verdict"], rows)


def curve_figures(found: ShopReview, words: Words) -> Sheet:
    """The share failed by age, of all places and of the two sides the page draws."""
    rows: list[Sequence[Cell]] = []
    for one in found.curves:
        name = words.heading(one.factor, one.level) if one.factor else ""
        rows += [[one.factor, one.level, name, share.day, *_share(share)] for share in one.shares]
    return Sheet("curve", ("factor", "level", "name", "day", "failed", "low", "high"), rows)


def as_csv(sheet: Sheet) -> str:
    file = io.StringIO()
    writer = csv.writer(file, lineterminator="\r\n")
    writer.writerow(sheet.head)
    writer.writerows([_plain(cell) for cell in row] for row in sheet.rows)
    return file.getvalue()


def _plain(cell: Cell) -> Cell:
    """A spreadsheet must not take a name for a formula."""
    if isinstance(cell, str) and cell.startswith(FORMULA_STARTS):
        return f"'{cell}"
    return cell
