from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from shopwarranty.safekeeping import backing_up
from shopwarranty.safekeeping.database_copy import CannotCopy
from shopwarranty.safekeeping.pass_phrase import add_pass_phrase, pass_phrase_of


class Command(BaseCommand):
    help = "Writes the whole installation to one file: database, stored files, keys by choice, with hashes."

    def add_arguments(self, parser: ArgumentParser) -> None:
        where = parser.add_mutually_exclusive_group(required=True)
        where.add_argument("--out", type=Path, metavar="FILE")
        where.add_argument("--into", type=Path, metavar="FOLDER", help="a file named by date and time")
        parser.add_argument(
            "--keep", type=int, default=0, metavar="N", help="with --into: only the newest N stay"
        )
        parser.add_argument(
            "--with-keys", action="store_true", help="also the secret keys; needs a pass phrase"
        )
        add_pass_phrase(parser)

    def handle(self, *args: Any, **options: Any) -> None:
        if options["keep"] and not options["into"]:
            raise CommandError("--keep goes with --into.", returncode=2)
        now = timezone.now()
        path = options["out"] or options["into"] / backing_up.NAME.format(now)
        if path.exists():
            raise CommandError(f"{path} is there already; choose another name.", returncode=2)
        made = self.made(path, now, options)
        self.stdout.write(f"{made.path}: {made.files} entries, {made.size:,} bytes.")
        self.stdout.write(f"SHA-256 {backing_up.fingerprint(path)}")
        if options["into"] and options["keep"]:
            for old in backing_up.throw_away(options["into"], options["keep"]):
                self.stdout.write(f"Thrown away: {old.name}")
        if made.damaged:
            names = "\n".join(made.damaged)
            raise CommandError(
                f"The backup is made, but these stored files are damaged:\n{names}", returncode=1
            )

    def made(self, path: Path, now: Any, options: Any) -> backing_up.Made:
        try:
            return backing_up.back_up(
                path=path, now=now, pass_phrase=pass_phrase_of(options), with_keys=options["with_keys"]
            )
        except backing_up.KeysNeedPassPhrase as error:
            words = "Keys travel only in a backup with a pass phrase: add --pass-phrase-file FILE."
            raise CommandError(words, returncode=2) from error
        except CannotCopy as error:
            raise CommandError(str(error), returncode=2) from error
        except OSError as error:
            raise CommandError(f"{path}: {error.strerror}. No backup was made.", returncode=2) from error
