from typing import Any

from django.apps import AppConfig
from django.db import connections
from django.db.models.signals import post_migrate


def schedule_tick(using: str, **kwargs: Any) -> None:
    """The one row of the queue's timetable: wake us every minute."""
    from django_q.models import Schedule

    if Schedule._meta.db_table in connections[using].introspection.table_names():
        Schedule.objects.using(using).get_or_create(
            name="tick",
            defaults={
                "func": "shopwarranty.outbox.tick.tick_now",
                "schedule_type": Schedule.MINUTES,
                "minutes": 1,
                "repeats": -1,
            },
        )


class OutboxConfig(AppConfig):
    name = "shopwarranty.outbox"

    def ready(self) -> None:
        from . import checks  # noqa: F401 registers itself

        post_migrate.connect(schedule_tick, sender=self)
