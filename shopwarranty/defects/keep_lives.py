"""Keeps the stored lives in line: after visits, and once a minute for what no act announced."""

from collections.abc import Collection
from datetime import datetime, timedelta
from typing import Any, Final

from django.db.models import Max, Q

from shopwarranty.jobs.models import FilmPiece, PanelWork, Place
from shopwarranty.shops.models import Change, Counter, Shop
from shopwarranty.shops.scope import shop_scope

from .lives import Rebuilt, line_in_use, rebuild_lives

SEEN_TO: Final = "lives.change"
OVERLAP, STILL_UNDER_WAY = 1000, timedelta(minutes=2)
JOB_OF: Final = {
    PanelWork._meta.db_table: (PanelWork, "job_id"),
    FilmPiece._meta.db_table: (FilmPiece, "panel_work__job_id"),
    Place._meta.db_table: (Place, "piece__panel_work__job_id"),
}


def after_findings(sender: Any, *, job_ids: Collection[int], **more: Any) -> None:
    rebuild_lives(job_ids)


def catch_up(now: datetime) -> Rebuilt:
    """Jobs whose panels, pieces or places changed, and every life where the shop moved its line."""
    total = Rebuilt()
    for shop in Shop.objects.order_by("pk"):
        with shop_scope(shop):
            total += _catch_up(shop, now)
    return total


def _catch_up(shop: Shop, now: datetime) -> Rebuilt:
    newest = Change.objects.aggregate(newest=Max("pk"))["newest"] or 0
    done = rebuild_lives(None if line_in_use() != shop.failure_line else _changed_jobs(now))
    Counter.objects.update_or_create(series=SEEN_TO, defaults={"last": newest})
    return done


def _changed_jobs(now: datetime) -> set[int]:
    """By the history. It is read a little backwards: a change may become visible after a later one."""
    counter = Counter.objects.filter(series=SEEN_TO).first()
    last = counter.last if counter else 0
    fresh = Q(pk__gt=last) | Q(pk__gt=last - OVERLAP, at__gt=now - STILL_UNDER_WAY)
    jobs: set[int] = set()
    for table, (model, job) in JOB_OF.items():
        rows = Change.objects.filter(fresh, table=table).values("row")
        jobs.update(model.objects.filter(pk__in=rows).values_list(job, flat=True))
    return jobs
