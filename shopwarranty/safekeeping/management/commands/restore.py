from argparse import ArgumentParser
from io import StringIO
from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from shopwarranty.safekeeping import restoring
from shopwarranty.safekeeping.database_copy import CannotCopy
from shopwarranty.safekeeping.pass_phrase import add_pass_phrase, pass_phrase_of


class Command(BaseCommand):
    help = "Brings a backup into an installation without shops, and proves that everything arrived."
    requires_migrations_checks = False

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE")
        add_pass_phrase(parser)

    def handle(self, *args: Any, **options: Any) -> None:
        done = self.restored(options["file"], pass_phrase_of(options))
        write = self.stdout.write
        write(f"Backup of {done.made_at}: {done.rows:,} rows in {done.tables} tables, {done.files} files.")
        write("Rows and files are those that the backup counted.")
        write(f"Keys and settings brought back: {done.own} files. Everybody has to sign in again.")
        for slug, letter in done.series.items():
            write(f"{slug}: certificates are numbered in series {letter} from now on.")
        if done.parked:
            write(f"{done.parked} waiting messages are parked: look at them before sending them again.")
        said = StringIO()
        call_command("verify_certificates", stdout=said, stderr=self.stderr)
        write(said.getvalue().strip())

    def restored(self, path: Path, pass_phrase: str) -> restoring.Restored:
        try:
            return restoring.restore(path=path, pass_phrase=pass_phrase, now=timezone.now())
        except restoring.NotEmpty as error:
            words = f"There are shops here already ({error}). Restore into an installation without any."
            raise CommandError(words, returncode=2) from error
        except restoring.OtherDatabase as error:
            words = (
                "The backup is of the other kind of database: set DATABASE_URL to the kind it was made from."
            )
            raise CommandError(words, returncode=2) from error
        except (restoring.BadArchive, CannotCopy) as error:
            raise CommandError(f"{error}\nNothing was changed.", returncode=2) from error
        except restoring.Incomplete as error:
            raise CommandError(f"Not restored:\n{error}", returncode=1) from error
        except OSError as error:
            raise CommandError(f"Not restored: {error}.", returncode=2) from error
