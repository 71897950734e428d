from datetime import timedelta

from django.apps import AppConfig


class WarrantyConfig(AppConfig):
    name = "shopwarranty.warranty"

    def ready(self) -> None:
        from shopwarranty.outbox import tick
        from shopwarranty.shops.having import shops_having

        from .matching import sweep
        from .planned_dates import moved_ones, replace_moved

        tick.add_step("certificates", replace_moved, due=lambda: shops_having(moved_ones()))
        tick.add_step("questions about certificates", sweep, every=timedelta(hours=1))
