"""Lives kept packed: what the review reads instead of the whole record. The only writer of `KeptLives`.

They hold one state of the record. A page that finds them out of date reads the record itself and writes
nothing; the tick packs anew, but never spends more than a twentieth of its time on it.
"""

from __future__ import annotations

import time
from datetime import datetime, timedelta

from django.db import transaction

from shopwarranty.shops.models import Shop
from shopwarranty.shops.scope import every_shop, shop_scope

from .lives import LifeTable, load, version_of, versions
from .models import KeptBlock, KeptLives
from .packed_table import packed, same, unpacked

FORM = 1
"""Grows when the shape of the table or of its blocks changes, so that older ones are packed anew."""

SHARE_OF_TIME = 20
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


def keep_all(now: datetime) -> int:
    """Every shop whose record has changed since its lives were packed, as often as that is worth its time."""
    with every_shop():
        known = {
            kept.shop_id: kept
            for kept in KeptLives.objects.only("shop", "version", "form", "packed_at", "took_s")
        }
        current = versions()
    due = [shop for shop, version in current.items() if _is_due(known.get(shop.pk), version, now)]
    total = 0
    for shop in due:
        with shop_scope(shop):
            total += keep_lives(shop, now)
    return total


def _is_due(kept: KeptLives | None, version: str, now: datetime) -> bool:
    if kept is None or kept.form != FORM:
        return True
    if kept.version == version:
        return False
    return now - kept.packed_at >= timedelta(seconds=SHARE_OF_TIME * kept.took_s)


def kept_is_right(shop: Shop) -> bool:
    """Whether the kept lives of the shop in scope equal those derived from the record now.

    None kept is right: a page then reads the record. So is an older state of the record, which no page reads.
    """
    table = kept_table(version_of(shop))
    return table is None or same(table, load(shop))
