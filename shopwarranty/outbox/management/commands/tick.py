from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from shopwarranty.outbox import tick


class Command(BaseCommand):
    help = "One pass of what the background worker does; for cron, or to see what is due."

    def handle(self, *args: Any, **options: Any) -> None:
        results = tick.run(timezone.now())
        for result in results:
            self.stdout.write(f"{result.name}: {'' if result.ok else 'FAILED '}{result.said}")
        if not all(result.ok for result in results):
            raise CommandError("A step failed; the lines above say which.", returncode=1)
