from django.apps import AppConfig


class JobsConfig(AppConfig):
    name = "shopwarranty.jobs"

    def ready(self) -> None:
        from shopwarranty.outbox import tick

        from .photos import make_thumbnails, without_thumbnail

        tick.add_step("thumbnails", make_thumbnails, due=without_thumbnail)
