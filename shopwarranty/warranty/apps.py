from django.apps import AppConfig


class WarrantyConfig(AppConfig):
    name = "shopwarranty.warranty"

    def ready(self) -> None:
        from shopwarranty.outbox import tick

        from .matching import sweep
        from .planned_dates import replace_moved

        tick.add_step("certificates", replace_moved)
        tick.add_step("questions about certificates", sweep)
