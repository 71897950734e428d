from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError
from django.utils import timezone

from shopwarranty.safekeeping.looking_over import Look, Mark, Seen, looks, wrong

SHOWN = {Mark.FINE: "fine ", Mark.LOOK: "look ", Mark.WRONG: "WRONG"}


class Command(BaseCommand):
    help = "Looks at settings, database, files, mail, worker, clock and backups, and says what to do."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--no-network", action="store_true", help="do not speak to the mail server")

    def handle(self, *args: Any, **options: Any) -> None:
        now, found = timezone.now(), list[Seen]()
        for one in looks(network=not options["no_network"]):
            found += seen_by(one, now)
        for seen in sorted(found, key=lambda seen: list(Mark)[::-1].index(seen.mark)):
            self.stdout.write(f"{SHOWN[seen.mark]}  {seen.what}")
            if seen.remedy:
                self.stdout.write(f"       -> {seen.remedy}")
        failures = sum(seen.mark is Mark.WRONG for seen in found)
        if failures:
            raise CommandError(f"{failures} to be put right.", returncode=1)


def seen_by(one: Look, now: Any) -> list[Seen]:
    """A look that fails is a finding too, and does not hide the others."""
    try:
        return list(one(now))
    except DatabaseError as error:
        return [
            wrong(f"The database does not answer: {error}".strip(), "Look at DATABASE_URL and the server.")
        ]
    except OSError as error:
        return [wrong(f"{one.__name__}: {error}", "Look at the folder's owner and rights.")]
