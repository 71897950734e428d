from django.apps import AppConfig


class DefectsConfig(AppConfig):
    name = "shopwarranty.defects"

    def ready(self) -> None:
        from shopwarranty.inspections.signals import findings_changed
        from shopwarranty.outbox import tick

        from .keep_lives import after_findings, behind, catch_up

        findings_changed.connect(after_findings, dispatch_uid="lives")
        tick.add_step("lives", catch_up, due=behind)
