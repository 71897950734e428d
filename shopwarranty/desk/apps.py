from datetime import timedelta

from django.apps import AppConfig


class DeskConfig(AppConfig):
    name = "shopwarranty.desk"

    def ready(self) -> None:
        from shopwarranty.outbox import tick

        from .batch import go_on, unfinished
        from .flat.pending import sweep

        tick.add_step("imports", sweep, every=timedelta(hours=1))
        tick.add_step("certificates asked for together", go_on, due=unfinished)
