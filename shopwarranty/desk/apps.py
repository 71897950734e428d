from django.apps import AppConfig


class DeskConfig(AppConfig):
    name = "shopwarranty.desk"

    def ready(self) -> None:
        from shopwarranty.outbox import tick

        from .batch import go_on
        from .flat.pending import sweep

        tick.add_step("imports", sweep)
        tick.add_step("certificates asked for together", go_on)
