"""Keeps the stored lives in line: after visits, and once a minute for what no act announced."""

from collections.abc import Collection
from datetime import datetime, timedelta
from typing import Any

from shopwarranty.jobs.models import PanelWork
from shopwarranty.shops.models import Shop
from shopwarranty.shops.scope import shop_scope

from .lives import Rebuilt, line_in_use, rebuild_lives

LOOK_BACK = timedelta(days=2)


def after_findings(sender: Any, *, job_ids: Collection[int], **more: Any) -> None:
    rebuild_lives(job_ids)


def catch_up(now: datetime) -> Rebuilt:
    """Panels finished lately that have no lives yet, and every life where the shop moved its line."""
    total = Rebuilt()
    for shop in Shop.objects.order_by("pk"):
        with shop_scope(shop):
            total += _catch_up(shop, now)
    return total


def _catch_up(shop: Shop, now: datetime) -> Rebuilt:
    if line_in_use() != shop.failure_line:
        return rebuild_lives()
    lately = PanelWork.objects.filter(finished_at__gt=now - LOOK_BACK, pieces__places__lives__isnull=True)
    return rebuild_lives(lately.exclude(pieces__places=None).values_list("job_id", flat=True).distinct())
