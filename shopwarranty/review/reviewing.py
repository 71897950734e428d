"""One review of a shop's lives, worked out once for each state of the record, read by all pages and files."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from django.core.cache import cache

from shopwarranty.analysis.bands import CHECK_BANDS
from shopwarranty.analysis.curve import ShareFailed, design_effect_of, shares_failed
from shopwarranty.analysis.exposure import Lives
from shopwarranty.analysis.groups import GroupFigure, Whole, figures, overall, whole_of
from shopwarranty.analysis.held import held
from shopwarranty.analysis.lots import LotFigure, lots
from shopwarranty.analysis.patterns import Factor
from shopwarranty.analysis.questions import NOT_RECORDED_LEVEL
from shopwarranty.analysis.results import Review
from shopwarranty.analysis.review import analyse
from shopwarranty.shops.models import Shop

from .asking import Asked, ask
from .attending import attendance_of
from .columns import NOT_RECORDED, IntArray
from .drifting import DriftOf, drifts
from .fixed import claims_in, newest
from .kept_lives import table_of
from .lives import LifeTable
from .models import FixedReview
from .selection import Selection, families
from .stated_only import StatedOnly, stated_only

FORM = 2
"""Grows when what is kept changes shape, so that an older one is never read."""

KEPT_S = 3600
SEED = 20
SHARE_DAYS = (14, 90, 365)
TABLES = ("panel", "place_kind", "spot", "post_heated", "film", "lot", "installer")
HELD_AGAINST = {
    "panel": ("place_kind",),
    "film": ("panel_kind", "place_kind"),
    "lot": ("panel_kind", "place_kind"),
    "post_heated": ("panel_kind", "place_kind"),
    "installer": ("panel_kind", "place_kind", "film"),
}
"""What each table is judged beside: failures observed against those expected of the same mix."""

RANKED_FROM = 10
"""Failures in all from which an order means anything; below, counts are shown and nothing is ranked."""


CURVE_DAYS = (14, 90, 365, 730, 1095, 1461, 1826)
"""Shares hold at the ages of checks, so only those are drawn."""


@dataclass(frozen=True, slots=True)
class CurveOf:
    """Share failed by each of CURVE_DAYS as far as watched, of one level; no factor: of all places."""

    factor: str
    level: str
    shares: tuple[ShareFailed, ...]


@dataclass(frozen=True, slots=True, eq=False)
class ShopReview:
    """Everything a page shows; `lots` by level.

    `fixed_on`: the day of the last fixed review, which alone makes claims; None before the first. `waiting`:
    comparisons (factor, level, reference) that would be claimed if it were made today.
    """

    selection: Selection
    asked: Asked
    review: Review
    whole: GroupFigure
    lots: Mapping[str, LotFigure]
    curves: tuple[CurveOf, ...]
    stated: Mapping[tuple[str, str], StatedOnly]
    attendance_ratio: float | None
    drift: tuple[DriftOf, ...] = ()
    fixed_on: date | None = None
    waiting: frozenset[tuple[str, str, str]] = frozenset()

    @property
    def ranked(self) -> bool:
        return self.review.failures >= RANKED_FROM

    def table(self, name: str) -> tuple[GroupFigure, ...]:
        return dict(self.review.groups).get(name, ())


def life_table(shop: Shop, version: str) -> LifeTable:
    """The lives of the shop in scope, read once for each state of the record."""
    key = f"review:{FORM}:{shop.pk}:lives:{version}"
    kept: LifeTable | None = cache.get(key)
    if kept is None:
        kept = table_of(shop, version)
        cache.set(key, kept, KEPT_S)
    return kept


def largest_family(table: LifeTable) -> str:
    """The film family with the most watched places; "" when nothing is on record."""
    found = families(table)
    return found[0] if found else ""


def review_of(shop: Shop, selection: Selection, table: LifeTable, version: str) -> ShopReview:
    """The review of these lives, as of `version`; the shop must be in scope."""
    fixed = None if selection.exploring else newest(selection)
    said = (f"{name}={value}" for name, value in selection.query().items())
    parts = (*said, str(selection.part), str(fixed.pk if fixed else ""), version)
    key = f"review:{FORM}:{shop.pk}:{'&'.join(parts)}"
    kept: ShopReview | None = cache.get(key)
    if kept is None:
        kept = work_out(table, selection, attendance_of())
        kept = kept if fixed is None else under(kept, fixed, same_record=fixed.version == version)
        cache.set(key, kept, KEPT_S)
    return kept


def under(found: ShopReview, fixed: FixedReview, *, same_record: bool) -> ShopReview:
    """With the claims of the fixed review; of the same state of the record it says them anyway."""
    if same_record:
        return replace(found, fixed_on=fixed.on)
    now = held(found.review.effects, claims_in(fixed))
    review = replace(found.review, effects=now.effects)
    return replace(found, review=review, fixed_on=fixed.on, waiting=now.waiting)


def work_out(table: LifeTable, selection: Selection, attendance_ratio: float | None) -> ShopReview:
    """Pure from here on: the same lives give the same figures."""
    asked = ask(table, selection, attendance_ratio=attendance_ratio)
    review = analyse(asked.question, seed=SEED)
    wholes = _wholes(asked)
    of_lots = _lots(asked, wholes[HELD_AGAINST["lot"]])
    alike = design_effect_of(asked.question.lives)
    groups = [_ranked_table(asked, wholes, name, number, alike) for number, name in enumerate(TABLES)]
    shown = {name: lines for name, lines in groups if lines}
    rest = [(name, figures) for name, figures in review.groups if name not in shown]
    return ShopReview(
        selection=selection,
        asked=asked,
        review=replace(review, groups=(*shown.items(), *rest)),
        whole=overall(asked.question.lives, days=SHARE_DAYS),
        lots=of_lots,
        curves=tuple(_curves(asked, review)),
        stated={} if selection.exploring else stated_only(table, selection, asked),
        attendance_ratio=attendance_ratio,
        drift=() if selection.exploring else _drift(table, asked, wholes[HELD_AGAINST["lot"]], of_lots),
    )


def _drift(
    table: LifeTable, asked: Asked, whole: Whole, of_lots: Mapping[str, LotFigure]
) -> tuple[DriftOf, ...]:
    if not asked.question.claimed:
        return ()
    bad = [asked.having("lot", level) for level, figure in of_lots.items() if figure.alert]
    bad_lots = np.logical_or.reduce([np.zeros(len(asked.rows), dtype=bool), *bad])
    return drifts(asked, whole, table.starts[asked.rows], bad_lots, SEED)


def _wholes(asked: Asked) -> dict[tuple[str, ...], Whole]:
    question = asked.question
    mixes = {(), *HELD_AGAINST.values()}
    return {mix: whole_of(question.lives, question.named(mix)) for mix in mixes}


def _ranked_table(
    asked: Asked, wholes: Mapping[tuple[str, ...], Whole], name: str, number: int, alike: float
) -> tuple[str, tuple[GroupFigure, ...]]:
    """The worst first by what is most likely true of them; what is not recorded last, and in no order."""
    factor = asked.factor(name)
    if factor is None:
        return name, ()
    whole = wholes[HELD_AGAINST.get(name, ())]
    codes, levels, unknown = _recorded(factor)
    found = figures(whole, codes, levels, seed=SEED + number, days=()) if levels else ()
    shares = _shares(asked.question.lives, codes, len(levels), alike)
    full = (replace(f, shares=s) for f, s in zip(found, shares, strict=True))
    order = sorted(full, key=lambda f: (-(f.shrunken or 0.0), -f.failures, f.level))
    if not (unknown >= 0).any():
        return name, tuple(order)
    rest = figures(whole, unknown, (NOT_RECORDED_LEVEL,), seed=SEED, days=())
    own = _shares(asked.question.lives, unknown, 1, alike)
    return name, (*order, *(_unranked(f, s) for f, s in zip(rest, own, strict=True)))


def _shares(lives: Lives, codes: IntArray, size: int, alike: float) -> list[tuple[ShareFailed | None, ...]]:
    """Share failed by the days shown, for each level; one band a planned check is enough for them."""
    order = np.argsort(codes, kind="stable")
    ends = np.searchsorted(codes[order], np.arange(size + 1))
    parts = (lives.only(order[ends[k] : ends[k + 1]]) for k in range(size))
    return [shares_failed(part, SHARE_DAYS, CHECK_BANDS, design_effect=alike) for part in parts]


def _recorded(factor: Factor) -> tuple[IntArray, Sequence[str], IntArray]:
    """Codes and levels without "not recorded", and codes of that alone (0, else -1)."""
    if NOT_RECORDED_LEVEL not in factor.levels:
        return factor.codes, factor.levels, np.full(len(factor.codes), NOT_RECORDED)
    last = factor.levels.index(NOT_RECORDED_LEVEL)
    is_unknown = factor.codes == last
    codes = np.where(is_unknown, NOT_RECORDED, factor.codes)
    return codes, factor.levels[:last], np.where(is_unknown, 0, NOT_RECORDED)


def _unranked(figure: GroupFigure, shares: tuple[ShareFailed | None, ...]) -> GroupFigure:
    return replace(figure, shrunken=None, shrunken_interval=None, p_worst3=None, shares=shares)


def _curves(asked: Asked, review: Review) -> Iterator[CurveOf]:
    """Of the whole; and of the two sides of what goes with failures most surely, else of post-heat."""
    lives = asked.question.lives
    yield CurveOf("", "", tuple(s for s in shares_failed(lives, CURVE_DAYS) if s is not None))
    sure = review.headline[0].contrast if review.headline else None
    factor = asked.factor(sure.factor if sure else "post_heated")
    if factor is None or not lives.found.any() or not asked.question.claimed:
        return
    pair = (sure.level, sure.reference) if sure else ("no", "yes")
    for level in pair:
        own = asked.having(factor.name, level)
        if lives.found[own].any():
            yield CurveOf(factor.name, level, _curve(lives.only(own)))


def _curve(lives: Lives) -> tuple[ShareFailed, ...]:
    return tuple(s for s in shares_failed(lives, CURVE_DAYS, CHECK_BANDS) if s is not None)


def _lots(asked: Asked, whole: Whole) -> dict[str, LotFigure]:
    """Each lot against what its own ages and mix would have shown; nothing while nothing has failed."""
    factor = asked.factor("lot")
    if factor is None or whole.expected is None:
        return {}
    found = asked.question.lives.found[whole.rows].astype(np.float64)
    codes, levels, _unknown = _recorded(factor)
    said = lots(codes[whole.rows], len(levels), whole.vehicle, found, whole.expected)
    return dict(zip(levels, said, strict=True))
