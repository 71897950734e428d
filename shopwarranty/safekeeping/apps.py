from datetime import timedelta

from django.apps import AppConfig


class SafekeepingConfig(AppConfig):
    name = "shopwarranty.safekeeping"

    def ready(self) -> None:
        from shopwarranty.outbox import tick

        from .nightly import start_when_due
        from .personal.retiring import retire_when_due

        tick.add_step("backup", start_when_due, every=timedelta(minutes=10))
        tick.add_step("retention", retire_when_due, every=timedelta(minutes=10))
