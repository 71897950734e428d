from typing import Any

from django.core.management.base import BaseCommand

from shopwarranty.desk.flat.documentation import as_markdown


class Command(BaseCommand):
    help = "Prints how the files of import_jobs and export_jobs are written, as Markdown."

    def handle(self, *args: Any, **options: Any) -> None:
        for line in as_markdown():
            self.stdout.write(line)
