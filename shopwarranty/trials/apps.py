from datetime import timedelta

from django.apps import AppConfig


class TrialsConfig(AppConfig):
    name = "shopwarranty.trials"

    def ready(self) -> None:
        from shopwarranty.jobs import panel_notes
        from shopwarranty.outbox import tick

        from .at_the_panel import drawn_here, drawn_on
        from .checks import plan_every_shops_checks

        panel_notes.add_source(drawn_here)
        panel_notes.add_job_source(drawn_on)
        tick.add_step("checks of trials", plan_every_shops_checks, every=timedelta(minutes=10))
