from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from django.apps import AppConfig

if TYPE_CHECKING:
    from django.db.models import QuerySet

    from shopwarranty.shops.models import Shop


class ReviewConfig(AppConfig):
    """Steps load the statistics only when they run: every command would wait for them otherwise."""

    name = "shopwarranty.review"

    def ready(self) -> None:
        from shopwarranty.outbox import tick

        tick.add_step("kept lives", kept_lives, due=lives_to_pack)
        tick.add_step("fixed reviews", fixed_reviews, every=timedelta(hours=1))
        tick.add_step("likelihoods", likelihoods, every=timedelta(hours=1))


def kept_lives(now: datetime) -> int:
    from .kept_lives import keep_all

    return keep_all(now)


def lives_to_pack() -> QuerySet[Shop]:
    from shopwarranty.outbox.due import Moment

    from .kept_lives import to_look_at

    return to_look_at(Moment())


def fixed_reviews(now: datetime) -> int:
    from .fixing import fix_due

    return fix_due(now)


def likelihoods(now: datetime) -> int:
    from .likelihoods import keep_likelihoods

    return keep_likelihoods(now)
