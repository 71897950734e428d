from typing import Any

from django.apps import AppConfig
from django.db.models.signals import post_migrate


def put_triggers_in_place(using: str, **kwargs: Any) -> None:
    from .triggers import install

    install(using)


class ShopsConfig(AppConfig):
    name = "shopwarranty.shops"

    def ready(self) -> None:
        post_migrate.connect(put_triggers_in_place, sender=self)
