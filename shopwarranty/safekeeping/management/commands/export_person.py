from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from shopwarranty.safekeeping.archive import whole_file
from shopwarranty.safekeeping.of_person import add_person, person_of
from shopwarranty.safekeeping.personal.package import write_package
from shopwarranty.shops.history import record_change


class Command(BaseCommand):
    help = "Writes everything a shop keeps about one person to a ZIP: JSON, certificates, letters, photos."

    def add_arguments(self, parser: ArgumentParser) -> None:
        add_person(parser)
        parser.add_argument("--out", required=True, type=Path, metavar="FILE")

    def handle(self, *args: Any, **options: Any) -> None:
        now, path = timezone.now(), options["out"]
        with person_of(options) as (party, actor):
            record_change(row=party, act="personal data exported", actor=actor, at=now)
            try:
                with whole_file(path) as file:
                    count = write_package(party=party, file=file, now=now)
            except OSError as error:
                raise CommandError(f"{path} cannot be written: {error.strerror}.", returncode=2) from error
        self.stdout.write(f"{path}: person.json and {count} files.")
