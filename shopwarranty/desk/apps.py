from django.apps import AppConfig


class DeskConfig(AppConfig):
    name = "shopwarranty.desk"

    def ready(self) -> None:
        from shopwarranty.outbox import tick

        from .flat.pending import sweep

        tick.add_step("imports", sweep)
