"""From lives to the question the statistics answer: which factors, which claimed, which adjusted for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import numpy as np

from shopwarranty.analysis.exposure import Lives
from shopwarranty.analysis.patterns import Factor
from shopwarranty.analysis.questions import NOT_RECORDED_LEVEL, Question, factor_of
from shopwarranty.trade.technique import FIELDS

from .columns import BASIS_CODE, NOT_RECORDED, BoolArray, IntArray, Numbers, Span, Texts, cut, texts
from .lives import OWN, LifeTable
from .selection import Part, Selection

TECHNIQUE = tuple(field.key for field in FIELDS)
CONDITIONS = ("surface_c", "humidity", "dew_margin")
RANKED = ("panel", "place_kind", "spot", "lot")
ADJUSTED = ("panel_kind", "place_kind", "installer", "film")
"""Known to differ (panel and kind of place) or owed fairness (installer, film): in every fit."""

FILLED_IN = frozenset({"lot", "quarter", "installer", "film"})
"""Recorded by the program itself; what a hand writes down is held to a stricter line."""

SEEN_BY_OWNER = frozenset({"covered_by", "left_short", "wrap_in_wanted_mm", "wrap_in_reached_mm"})
"""Change how much of an edge an owner can see, and so who comes back."""


@dataclass(frozen=True, slots=True, eq=False)
class Asked:
    """`rows`: the lives asked about, as positions in the table; `spans`: what ranges of numbers mean.

    `unrecorded`: factors nobody stated for any of these lives.
    """

    rows: IntArray
    question: Question
    spans: Mapping[tuple[str, str], Span]
    unrecorded: tuple[str, ...]

    def factor(self, name: str) -> Factor | None:
        return next((f for f in self.question.factors if f.name == name), None)

    def having(self, name: str, level: str) -> BoolArray:
        """Which of `rows` have this level; shape (len(rows),)."""
        factor = self.factor(name)
        if factor is None or level not in factor.levels:
            return np.zeros(len(self.rows), dtype=bool)
        return np.asarray(factor.codes == factor.levels.index(level))


def ask(
    table: LifeTable,
    selection: Selection,
    *,
    attendance_ratio: float | None = None,
    only_stated: bool = False,
) -> Asked:
    """The question about these lives. `only_stated`: values known by method alone count as not recorded."""
    rows = np.flatnonzero(selection.mask(table))
    lives = Lives(table.entry[rows], table.clean[rows], table.failed[rows], table.vehicle[rows])
    everything = Lives(table.entry[rows], table.all_clean[rows], table.all_failed[rows], table.vehicle[rows])
    names = _claimable(table)
    factors: list[Factor] = []
    spans: dict[tuple[str, str], Span] = {}
    unrecorded: list[str] = []
    for name in dict.fromkeys((*RANKED, *ADJUSTED, *names, "quarter")):
        codes, levels, meant = _coded(table, name, rows, only_stated=only_stated and name in names)
        if (codes >= 0).any() or name in ADJUSTED:
            factors.append(_factor(name, codes, levels, lives.watched))
            spans |= {(name, span.text): span for span in meant}
        else:
            unrecorded.append(name)
    kept = {f.name for f in factors}
    question = Question(
        lives=lives,
        factors=tuple(factors),
        claimed=tuple(n for n in names if n in kept) if selection.part is Part.ENDS else (),
        adjustment=ADJUSTED,
        mix=("place_kind",),
        everything=everything,
        system_recorded=FILLED_IN & kept,
        seen_by_owner=SEEN_BY_OWNER & kept,
        attendance_ratio=attendance_ratio,
    )
    return Asked(rows, question, spans, tuple(unrecorded))


def _factor(name: str, codes: IntArray, levels: tuple[str, ...], watched: BoolArray) -> Factor:
    """Where nothing is left to look at, there is still a level for the fits to name."""
    if not len(codes):
        return Factor(name, codes, levels or (NOT_RECORDED_LEVEL,))
    return factor_of(name, codes, levels, watched)


def _claimable(table: LifeTable) -> tuple[str, ...]:
    own = (key for key in table.columns if key.startswith(OWN))
    return (*TECHNIQUE, *CONDITIONS, "film", "substrate", "bay", *own)


def _coded(
    table: LifeTable, name: str, rows: IntArray, *, only_stated: bool
) -> tuple[IntArray, tuple[str, ...], tuple[Span, ...]]:
    column = _quarters(table) if name == "quarter" else table.columns[name]
    spans: tuple[Span, ...] = ()
    if isinstance(column, Numbers):
        codes, spans = cut(column, rows)
        levels = tuple(span.text for span in spans)
    else:
        codes, levels = _occurring(column, rows)
    if only_stated and column.basis is not None:
        codes = np.where(column.basis[rows] == BASIS_CODE["by_method"], NOT_RECORDED, codes)
    return codes, levels, spans


def _occurring(column: Texts, rows: IntArray) -> tuple[IntArray, tuple[str, ...]]:
    """Codes of these rows and only the levels that occur among them."""
    codes = column.codes[rows]
    used = np.unique(codes[codes >= 0])
    number = np.full(len(column.levels) + 1, NOT_RECORDED)
    number[used] = np.arange(len(used))
    return number[codes], tuple(column.levels[k] for k in used)


def _quarters(table: LifeTable) -> Texts:
    """The calendar quarter a life started in: what moved with the season or with a change of ways."""
    days, inverse = np.unique(table.starts, return_inverse=True)
    names = [_quarter(date.fromordinal(int(day))) for day in days]
    of_days = texts(names)
    return Texts(of_days.codes[inverse], of_days.levels) if len(days) else of_days


def _quarter(day: date) -> str:
    return f"{day.year} Q{(day.month + 2) // 3}"
