"""Keeps the stored lives in line: after visits, and once a minute for what no act announced."""

from collections.abc import Collection
from datetime import datetime, timedelta
from typing import Any, Final

from django.db.models import Exists, F, Max, Min, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from shopwarranty.jobs.models import FilmPiece, PanelWork, Place
from shopwarranty.outbox.due import Moment, When
from shopwarranty.shops.models import Change, Counter, Shop
from shopwarranty.shops.scope import every_shop, shop_scope

from .lives import LINE_USED, Rebuilt, line_in_use, rebuild_lives

SEEN_TO: Final = "lives.change"
STILL_UNDER_WAY: Final = timedelta(minutes=2)
JOB_OF: Final = {
    PanelWork._meta.db_table: (PanelWork, "job_id"),
    FilmPiece._meta.db_table: (FilmPiece, "panel_work__job_id"),
    Place._meta.db_table: (Place, "piece__panel_work__job_id"),
}


def after_findings(sender: Any, *, job_ids: Collection[int], **more: Any) -> None:
    rebuild_lives(job_ids)


def catch_up(now: datetime) -> Rebuilt:
    """Jobs whose panels, pieces or places changed, and every life where the shop moved its line."""
    with every_shop():
        newest = Change.objects.aggregate(newest=Max("pk"))["newest"] or 0
        seen_to = Counter.objects.filter(series=SEEN_TO).aggregate(least=Min("last"))["least"] or 0
        due = list(_with_news(seen_to, now))
    total = Rebuilt()
    for shop in due:
        with shop_scope(shop):
            total += _catch_up(shop, newest, now)
    if seen_to < newest:
        with every_shop():  # those without news have been looked at just as far
            Counter.objects.filter(series=SEEN_TO, last__lt=newest).update(last=newest)
    return total


def behind() -> "QuerySet[Shop]":
    """What makes the tick catch up: history that was not read, or may still be under way, or a moved line."""
    lasts = Counter.objects.filter(series=SEEN_TO).order_by().values("series").annotate(least=Min("last"))
    unread = Change.objects.filter(pk__gt=Coalesce(Subquery(lasts.values("least")), 0))
    return _shops().filter(_LINE_MOVED | Exists(unread) | Exists(_fresh(Moment())))


def _with_news(seen_to: int, now: datetime) -> "QuerySet[Shop]":
    """Of all shops at once. The history is read on from where every shop has been looked at."""
    changed = Change.objects.filter(pk__gt=seen_to, table__in=JOB_OF).order_by()
    shop_ids = set(changed.values_list("shop", flat=True).distinct())
    return _shops().filter(_LINE_MOVED | Exists(_fresh(now)) | Q(pk__in=shop_ids)).order_by("pk")


_LINE_MOVED = Q(line=None) | ~Q(line=F("failure_line"))


def _shops() -> "QuerySet[Shop]":
    line = Counter.objects.filter(shop=OuterRef("pk"), series=LINE_USED).values("last")[:1]
    return Shop.objects.annotate(line=Subquery(line))


def _fresh(now: When) -> "QuerySet[Change]":
    return Change.objects.filter(shop=OuterRef("pk"), at__gt=now - STILL_UNDER_WAY).order_by()


def _catch_up(shop: Shop, newest: int, now: datetime) -> Rebuilt:
    done = rebuild_lives(None if line_in_use() != shop.failure_line else _changed_jobs(now))
    Counter.objects.update_or_create(series=SEEN_TO, defaults={"last": newest})
    return done


def _changed_jobs(now: datetime) -> set[int]:
    """By the history. It is read a little backwards: a change may become visible after a later one."""
    counter = Counter.objects.filter(series=SEEN_TO).first()
    fresh = Q(pk__gt=counter.last if counter else 0) | Q(at__gt=now - STILL_UNDER_WAY)
    jobs: set[int] = set()
    for table, (model, job) in JOB_OF.items():
        rows = Change.objects.filter(fresh, table=table).values("row")
        jobs.update(model.objects.filter(pk__in=rows).values_list(job, flat=True))
    return jobs
