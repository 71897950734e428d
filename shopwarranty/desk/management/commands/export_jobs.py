import os
from argparse import ArgumentParser
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import IO, Any

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from shopwarranty.desk.flat.exporting import export_findings, export_jobs
from shopwarranty.desk.management.progress import shop_of
from shopwarranty.shops.scope import shop_scope


class Command(BaseCommand):
    help = "Writes a shop's jobs and findings to two flat files, as import_jobs reads them."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("jobs", metavar="JOBS.csv", type=Path)
        parser.add_argument("findings", metavar="FINDINGS.csv", type=Path)
        parser.add_argument("--shop", required=True, metavar="SLUG")

    def handle(self, *args: Any, **options: Any) -> None:
        shop = shop_of(options["shop"])
        with shop_scope(shop), ExitStack() as stack:
            jobs_file = stack.enter_context(whole_file(options["jobs"]))
            findings_file = stack.enter_context(whole_file(options["findings"]))
            with transaction.atomic():
                jobs, rows = export_jobs(shop, jobs_file)
                findings = export_findings(findings_file)
        self.stdout.write(f"{jobs} jobs in {rows} rows, {findings} rows of findings.")


@contextmanager
def whole_file(path: Path) -> Iterator[IO[str]]:
    """A file that is there in full or not at all: written beside its place, then moved into it."""
    beside = path.with_name(f".{path.name}.part")
    try:
        with beside.open("w", encoding="utf-8", newline="") as file:
            yield file
        os.replace(beside, path)
    except OSError as error:
        raise CommandError(f"{path}: {error.strerror}.", returncode=2) from error
    finally:
        beside.unlink(missing_ok=True)
