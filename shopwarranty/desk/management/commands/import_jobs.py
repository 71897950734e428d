from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from shopwarranty.desk.flat.checking import Files, Outlook
from shopwarranty.desk.flat.faults import FilesRefused
from shopwarranty.desk.flat.importing import ChangedMeanwhile, check_files, import_files
from shopwarranty.desk.flat.outlook_words import sentences
from shopwarranty.desk.management.progress import ProgressLine, shop_of
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Shop
from shopwarranty.shops.scope import shop_scope


class Command(BaseCommand):
    help = (
        "Takes jobs and findings from two flat files into a shop, as history. The format is described on the "
        "page Import and export of the shop, and in the README."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("jobs", metavar="JOBS.csv", type=Path)
        parser.add_argument("findings", metavar="FINDINGS.csv", type=Path, nargs="?")
        parser.add_argument("--shop", required=True, metavar="SLUG")
        parser.add_argument("--dry-run", action="store_true", help="check everything, write nothing")
        parser.add_argument(
            "--plan-checks",
            action="store_true",
            help="also plan the checks of the imported jobs whose window is not over yet",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        shop = shop_of(options["shop"])
        files = files_of(options["jobs"], options["findings"])
        with shop_scope(shop):
            outlook = self._take_in(shop, files, options)
        for line in sentences(outlook, done=not options["dry_run"]):
            self.stdout.write(line)

    def _take_in(self, shop: Shop, files: Files, options: dict[str, Any]) -> Outlook:
        now, progress = timezone.now(), ProgressLine(self.stderr)
        try:
            if options["dry_run"]:
                outlook = check_files(files=files, shop=shop, now=now, progress=progress)
                if outlook.faults:
                    raise FilesRefused(outlook.faults)
                return outlook
            return import_files(
                files=files,
                shop=shop,
                actor=Actor("import_jobs"),
                now=now,
                with_checks=options["plan_checks"],
                progress=progress,
            )
        except FilesRefused as refused:
            refusal = f"{refused}\nNothing was written."
            raise CommandError(refusal, returncode=2) from refused
        except ChangedMeanwhile as changed:
            refusal = f"Somebody else wrote the same meanwhile ({changed}). Nothing was written; try again."
            raise CommandError(refusal, returncode=2) from changed
        finally:
            progress.end()


def files_of(jobs: Path, findings: Path | None) -> Files:
    for path in (jobs, findings):
        if path is not None and not path.is_file():
            raise CommandError(f"{path}: there is no such file.", returncode=2)
    return Files(jobs, findings, jobs.name, findings.name if findings else "")
