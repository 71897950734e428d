"""Lives kept packed: what the review reads instead of the whole record. The only writer of `KeptLives`.

They hold one state of the record. A page that finds them out of date reads the record itself and writes
nothing; the tick packs anew, but never spends more than a twentieth of its time on it.
"""

from __future__ import annotations

import time
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Exists, F, OuterRef, Q, QuerySet, Subquery

from shopwarranty.defects.keep_lives import STILL_UNDER_WAY
from shopwarranty.outbox.due import When
from shopwarranty.shops.models import Change, Shop
from shopwarranty.shops.scope import every_shop, shop_scope

from .lives import LifeTable, load, version_of, versions
from .models import KeptBlock, KeptLives
from .packed_table import packed, same, unpacked

FORM = 1
"""Grows when the shape of the table or of its blocks changes, so that older ones are packed anew."""

SHARE_OF_TIME = 20
AT_LEAST = timedelta(hours=1)
VALUES = ("version", "form", "lives", "head", "packed_at", "took_s")


def table_of(shop: Shop, version: str) -> LifeTable:
    """The lives of the shop in scope at this state of the record: kept ones, else from the record."""
    kept = kept_table(version)
    return load(shop) if kept is None else kept


def kept_table(version: str) -> LifeTable | None:
    """The kept lives of the shop in scope if they are of this state of the record; two queries."""
    kept = KeptLives.objects.filter(version=version, form=FORM).first()
    if kept is None:
        return None
    blocks = KeptBlock.objects.filter(kept=kept).order_by("number").values_list("packed", flat=True)
    return unpacked(kept.head, [bytes(block) for block in blocks])


def keep_lives(shop: Shop, now: datetime) -> int:
    """Packs the lives of the shop in scope; how many."""
    began = time.monotonic()
    version = version_of(shop)
    table = load(shop)
    found = packed(table)
    values = (version, FORM, len(table), found.head, now, time.monotonic() - began)
    with transaction.atomic():
        kept, _ = KeptLives.objects.update_or_create(defaults=dict(zip(VALUES, values, strict=True)))
        KeptBlock.objects.filter(kept=kept).delete()
        rows = [KeptBlock(kept=kept, number=n, packed=block) for n, block in enumerate(found.blocks)]
        KeptBlock.objects.bulk_create(rows)
    return len(table)


def to_look_at(now: When) -> QuerySet[Shop]:
    """Shops whose record may differ from what is packed, by their history; once an hour all. In `every_shop`.

    Cheap to ask every minute, which the version itself is not: it sums over every life.
    """
    packed_at = KeptLives.objects.filter(shop=OuterRef("pk"), form=FORM).values("packed_at")
    changed = Change.objects.filter(shop=OuterRef("pk"), at__gte=OuterRef("unseen_from")).order_by()
    shops = Shop.objects.annotate(packed_at=Subquery(packed_at))
    shops = shops.annotate(unseen_from=F("packed_at") - STILL_UNDER_WAY)
    return shops.filter(Q(packed_at=None) | Q(packed_at__lt=now - AT_LEAST) | Exists(changed))


def keep_all(now: datetime) -> int:
    """Every shop whose record has changed since its lives were packed, as often as that is worth its time."""
    with every_shop():
        kept = {each.shop_id: each for each in KeptLives.objects.defer("head").filter(form=FORM)}
        shops = [shop for shop in to_look_at(now).order_by("pk") if not _rests(kept.get(shop.pk), now)]
        current = versions(shops)
        same = [shop for shop in shops if shop.pk in kept and kept[shop.pk].version == current[shop]]
        KeptLives.objects.filter(shop__in=same).update(packed_at=now)
    total = 0
    for shop in shops:
        if shop not in same:
            with shop_scope(shop):
                total += keep_lives(shop, now)
    return total


def _rests(kept: KeptLives | None, now: datetime) -> bool:
    return kept is not None and now - kept.packed_at < timedelta(seconds=SHARE_OF_TIME * kept.took_s)


def kept_is_right(shop: Shop) -> bool:
    """Whether the kept lives of the shop in scope equal those derived from the record now.

    None kept is right: a page then reads the record. So is an older state of the record, which no page reads.
    """
    table = kept_table(version_of(shop))
    return table is None or same(table, load(shop))
