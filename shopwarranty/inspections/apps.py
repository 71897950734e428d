from django.apps import AppConfig


class InspectionsConfig(AppConfig):
    name = "shopwarranty.inspections"

    def ready(self) -> None:
        from shopwarranty.outbox import tick

        from .actions import settle_overdue
        from .holder.asked import sweep

        tick.add_step("checks", settle_overdue)
        tick.add_step("counts of holders' pages", sweep)
