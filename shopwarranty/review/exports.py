"""The review's tables as CSV: figures as on page and in JSON, unrounded, empty where nothing can be said."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

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


def groups_csv(found: ShopReview, words: Words, installers: frozenset[str]) -> str:
    rows = (_group_row(name, figure, words) for name in TABLES for figure in shown(found, name, installers))
    return _csv(GROUP_HEAD, rows)


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


def effects_csv(found: ShopReview, words: Words) -> str:
    """One line a comparison; the verdict is left out of a review that was narrowed down."""
    rows = []
    for effect, said in zip(found.review.effects, as_object(found.review)["effects"], strict=True):
        kept = {key: value for key, value in said.items() if key != "verdict"}
        verdict = "" if found.selection.exploring else verdict_words(effect, words)
        rows.append([*kept.values(), verdict])
    head = [key for key in _effect_keys(found) if key != "verdict"]
    return _csv([*head, "verdict"], rows)


def _effect_keys(found: ShopReview) -> Sequence[str]:
    effects = as_object(found.review)["effects"]
    return list(effects[0]) if effects else ["factor", "level", "reference"]


def _csv(head: Iterable[str], rows: Iterable[Sequence[Cell]]) -> str:
    file = io.StringIO()
    writer = csv.writer(file, lineterminator="\r\n")
    writer.writerow(head)
    writer.writerows([_plain(cell) for cell in row] for row in rows)
    return file.getvalue()


def _plain(cell: Cell) -> Cell:
    """A spreadsheet must not take a name for a formula."""
    if isinstance(cell, str) and cell.startswith(FORMULA_STARTS):
        return f"'{cell}"
    return cell
