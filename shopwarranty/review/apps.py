from datetime import datetime

from django.apps import AppConfig


class ReviewConfig(AppConfig):
    """Steps load the statistics only when they run: every command would wait for them otherwise."""

    name = "shopwarranty.review"

    def ready(self) -> None:
        from shopwarranty.outbox import tick

        tick.add_step("kept lives", kept_lives)
        tick.add_step("fixed reviews", fixed_reviews)
        tick.add_step("likelihoods", likelihoods)


def kept_lives(now: datetime) -> int:
    from .kept_lives import keep_all

    return keep_all(now)


def fixed_reviews(now: datetime) -> int:
    from .fixing import fix_due

    return fix_due(now)


def likelihoods(now: datetime) -> int:
    from .likelihoods import keep_likelihoods

    return keep_likelihoods(now)
