from datetime import timedelta

from django.apps import AppConfig


class InspectionsConfig(AppConfig):
    name = "shopwarranty.inspections"

    def ready(self) -> None:
        from shopwarranty.outbox import hours, signals, tick

        from .actions.addresses import clear_people, mark_people
        from .actions.settling import settle_overdue, unsettled
        from .holder.asked import sweep
        from .writing import steps, summary
        from .writing.sending import when_to_send

        signals.address_marked.connect(mark_people)
        signals.address_cleared.connect(clear_people)
        hours.set_hours(when_to_send)
        tick.add_step("checks", settle_overdue, due=unsettled)
        steps.add_to_tick()
        tick.add_step("weekly summary", summary.summarise, every=timedelta(minutes=10))
        tick.add_step("counts of holders' pages", sweep, every=timedelta(hours=1))
