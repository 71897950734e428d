from datetime import datetime

from django.apps import AppConfig


class ReviewConfig(AppConfig):
    name = "shopwarranty.review"

    def ready(self) -> None:
        from shopwarranty.outbox import tick

        tick.add_step("likelihoods", likelihoods)


def likelihoods(now: datetime) -> int:
    """Loads the statistics only when they are needed: every command would wait for them otherwise."""
    from .likelihoods import keep_likelihoods

    return keep_likelihoods(now)
