"""Once a month, and on demand: one review of everything on record, kept as it is. Only it makes claims.

Its family of claims is every comparison of a film family, unfiltered. Made by the tick on the first of a
month, when the record has doubled since the last one (an import), or because an owner asks for it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from datetime import datetime

from django.db import transaction
from django.db.models import Count, Sum

from shopwarranty.analysis.held import claims_of
from shopwarranty.analysis.review_json import as_object
from shopwarranty.defects.models import Life
from shopwarranty.shops.models import Shop
from shopwarranty.shops.scope import every_shop, shop_scope

from .attending import attendance_of
from .lives import LifeTable, version_of
from .models import FixedReview
from .news import News, news_of
from .reviewing import FORM, ShopReview, life_table, work_out
from .selection import Part, Selection, families
from .telling import tell

DOUBLED = 2


def fix_due(now: datetime) -> int:
    """Every shop whose month has begun or whose record has doubled; how many reviews were made."""
    made = 0
    for shop in _due(now):
        with shop_scope(shop):
            made += len(fix_review(shop=shop, now=now))
    return made


def fix_review(*, shop: Shop, now: datetime, asked_for: bool = False) -> list[FixedReview]:
    """Makes and keeps the review of the shop in scope, one a film family and part, and tells its news."""
    version = version_of(shop)
    table = life_table(shop, version)
    attendance_ratio = attendance_of()
    made = []
    for selection in _everything(table):
        found = work_out(table, selection, attendance_ratio)
        news = news_of(found)
        with transaction.atomic():
            tell(shop, found, table, news, now)
            made.append(_kept(shop, found, news, version, now, asked_for))
    return made


def _everything(table: LifeTable) -> Iterator[Selection]:
    """A shop whose films nobody recorded has one, too, that says so."""
    for family in families(table) or ("",):
        for part in Part:
            yield Selection(family, part)


def _kept(
    shop: Shop, found: ShopReview, news: tuple[News, ...], version: str, now: datetime, asked_for: bool
) -> FixedReview:
    row: FixedReview = FixedReview.objects.create(
        family=found.selection.family,
        part=found.selection.part.value,
        on=now.astimezone(shop.zone).date(),
        made_at=now,
        asked_for=asked_for,
        version=version,
        form=FORM,
        lives=found.review.rows,
        failures=found.review.failures,
        claims=[asdict(claim) for claim in claims_of(found.review.effects)],
        alerts=[asdict(each) for each in news],
        figures=as_object(found.review),
    )
    return row


def _due(now: datetime) -> list[Shop]:
    """Two queries for all shops."""
    with every_shop():
        lives = dict(Life.objects.exclude(family="").order_by().values_list("shop").annotate(n=Count("pk")))
        rows = FixedReview.objects.order_by().values_list("shop", "made_at").annotate(n=Sum("lives"))
        last: dict[int, tuple[datetime, int]] = {}
        for shop, made_at, size in rows:
            if shop not in last or made_at > last[shop][0]:
                last[shop] = (made_at, size)
    return [
        shop
        for shop in Shop.objects.filter(pk__in=lives).order_by("pk")
        if shop.pk not in last or _again(shop, *last[shop.pk], lives[shop.pk], now)
    ]


def _again(shop: Shop, made_at: datetime, then: int, size: int, now: datetime) -> bool:
    before, today = (moment.astimezone(shop.zone).date() for moment in (made_at, now))
    new_month = (before.year, before.month) < (today.year, today.month)
    return new_month or size >= max(DOUBLED * then, 1)
