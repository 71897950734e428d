from datetime import timedelta
from typing import Any

from django.apps import AppConfig
from django.db.models.signals import post_migrate, pre_migrate


def take_triggers_away(using: str, plan: list[Any], **kwargs: Any) -> None:
    from .row_security import unlock
    from .triggers import take_away

    if plan:
        take_away(using)
        unlock(using)


def put_triggers_in_place(using: str, **kwargs: Any) -> None:
    from .row_security import set_up
    from .triggers import install

    install(using)
    set_up(using)


class ShopsConfig(AppConfig):
    name = "shopwarranty.shops"

    def ready(self) -> None:
        from shopwarranty.outbox import tick

        from .asking import sweep

        tick.add_step("counts of public pages", sweep, every=timedelta(hours=1))
        pre_migrate.connect(take_triggers_away, sender=self)
        post_migrate.connect(put_triggers_in_place, sender=self)
