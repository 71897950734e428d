"""How likely each place still watched is to fail within its first year, with the reason; kept for the bay.

From the review's own figures: the share of all places that fails in a year, times how much more often this
panel's place fails, times what goes with failures surely. Where there are too few failures nothing is kept,
and the bay goes by its plain rule.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

import numpy as np
from django.core.cache import cache
from django.db.models import Max
from django.utils.translation import gettext as _
from django.utils.translation import override

from shopwarranty.analysis.results import Effect
from shopwarranty.defects.models import Life, LiftLikelihood
from shopwarranty.shops.models import Shop
from shopwarranty.shops.scope import every_shop, shop_scope
from shopwarranty.web.trade_names import first_upper

from . import said
from .columns import FloatArray
from .headline import effect_sentence
from .lives import LifeTable, version_of
from .reviewing import ShopReview, life_table, review_of
from .selection import Part, Selection, families
from .words import Words

AGAIN_AFTER = timedelta(hours=20)
LONGEST_REASON = 160
AT_ONCE = 500


def keep_likelihoods(now: datetime) -> int:
    """Once a day for every shop with lives; the number of places written."""
    written = 0
    for shop in _due(now):
        with shop_scope(shop), override(shop.language):
            written += likelihoods_of(shop, now)
    return written


def _due(now: datetime) -> list[Shop]:
    """Three queries for all shops. With too few failures nothing is kept that could tell its age, so the last
    try is remembered apart."""
    with every_shop():
        with_lives = set(Life.objects.order_by().values_list("shop", flat=True).distinct())
        ages = LiftLikelihood.objects.order_by().values_list("shop").annotate(at=Max("worked_out_at"))
        newest = dict(ages)
    shops = Shop.objects.filter(pk__in=with_lives | set(newest)).order_by("pk")
    return [shop for shop in shops if _is_time(shop, newest.get(shop.pk), now)]


def _is_time(shop: Shop, newest: datetime | None, now: datetime) -> bool:
    if newest is not None:
        return now - newest >= AGAIN_AFTER
    return cache.add(f"review:likelihoods:{shop.pk}", now, AGAIN_AFTER.total_seconds())


def likelihoods_of(shop: Shop, now: datetime) -> int:
    """Works out and keeps them for the shop in scope."""
    version = version_of(shop)
    table = life_table(shop, version)
    rows = []
    for family in families(table):
        for part in Part:
            found = review_of(shop, Selection(family, part), table, version)
            rows += _rows(found, table, Words(shop, table.own_fields, found.asked.spans), now)
    LiftLikelihood.objects.exclude(place__in=[row.place_id for row in rows]).delete()
    LiftLikelihood.objects.bulk_create(
        rows,
        AT_ONCE,
        update_conflicts=True,
        unique_fields=["place"],
        update_fields=["likelihood", "rank", "reason", "worked_out_at"],
    )
    return len(rows)


def _rows(found: ShopReview, table: LifeTable, words: Words, now: datetime) -> list[LiftLikelihood]:
    share = next((s.estimate for s in reversed(found.whole.shares) if s and s.day <= 365), None)
    if not found.ranked or not share:
        return []
    rows = found.asked.rows
    times = _spot_ratio(found) * np.prod([_effect_ratio(found, e) for e in _sure(found)], axis=0)
    likely = 1.0 - (1.0 - share) ** times
    reasons = _reasons(found, words)
    still = np.flatnonzero(table.ended[rows] == 0)
    places = dict(Life.objects.filter(ended=Life.Ended.OPEN).values_list("pk", "place_id"))
    order = still[np.argsort(-likely[still], kind="stable")]
    return [
        LiftLikelihood(
            place_id=places[int(table.life[rows[k]])],
            likelihood=float(likely[k]),
            rank=min(rank, 32767),
            reason=reasons[k][:LONGEST_REASON],
            worked_out_at=now,
        )
        for rank, k in enumerate(order, 1)
        if int(table.life[rows[k]]) in places
    ]


def _sure(found: ShopReview) -> list[Effect]:
    return [effect for effect in found.review.headline if effect.contrast.ratio > 1]


def _spot_ratio(found: ShopReview) -> FloatArray:
    """How many times as often as the whole this panel's place fails, pulled towards it."""
    ratio = {f.level: f.shrunken or 1.0 for f in found.table("spot")}
    factor = found.asked.factor("spot")
    if factor is None:
        return np.ones(len(found.asked.rows))
    by_code = np.array([ratio.get(level, 1.0) for level in factor.levels])
    return np.asarray(by_code[factor.codes])


def _effect_ratio(found: ShopReview, effect: Effect) -> FloatArray:
    """What the level adds beside the mean of all watched places, which the spot's figure already holds."""
    own = found.asked.having(effect.contrast.factor, effect.contrast.level)
    ratio = np.where(own, effect.contrast.ratio, 1.0)
    return np.asarray(ratio / ratio[found.asked.question.lives.watched].mean())


def _reasons(found: ShopReview, words: Words) -> list[str]:
    """The surest technique first, else the place itself; nothing where neither stands out."""
    reasons = list(_spot_reasons(found, words))
    for effect in reversed(_sure(found)):
        sentence = effect_sentence(effect, words)
        for k in np.flatnonzero(found.asked.having(effect.contrast.factor, effect.contrast.level)):
            reasons[k] = sentence
    return reasons


def _spot_reasons(found: ShopReview, words: Words) -> Iterator[str]:
    text = _("%(place)s: fails about %(ratio)s times as often as others.")
    worse = {
        f.level: text
        % {"place": first_upper(words.level("spot", f.level)), "ratio": said.about(f.shrunken or 0.0)}
        for f in found.table("spot")
        if f.shrunken_interval is not None and f.shrunken_interval.low > 1
    }
    factor = found.asked.factor("spot")
    for row in range(len(found.asked.rows)):
        yield "" if factor is None else worse.get(factor.levels[factor.codes[row]], "")
