from django.apps import AppConfig


class InspectionsConfig(AppConfig):
    name = "shopwarranty.inspections"

    def ready(self) -> None:
        from shopwarranty.outbox import hours, signals, tick

        from .actions import settle_overdue
        from .actions.addresses import clear_people, mark_people
        from .holder.asked import sweep
        from .writing import steps, summary
        from .writing.sending import when_to_send

        signals.address_marked.connect(mark_people)
        signals.address_cleared.connect(clear_people)
        hours.set_hours(when_to_send)
        tick.add_step("checks", settle_overdue)
        tick.add_step("offers", steps.offer_checks)
        tick.add_step("reminders", steps.remind)
        tick.add_step("missed appointments", steps.say_missed)
        tick.add_step("results", steps.say_results)
        tick.add_step("weekly summary", summary.summarise)
        tick.add_step("counts of holders' pages", sweep)
