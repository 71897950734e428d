"""The same review of a flat file of lives; nothing of it is kept."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from shopwarranty.analysis.flat_file import BadFile, read_question
from shopwarranty.analysis.review import analyse
from shopwarranty.analysis.review_json import to_json
from shopwarranty.review.reviewing import SEED

from .review import write


class Command(BaseCommand):
    help = "Reviews a flat file of lives (one row a place) and writes the figures as JSON."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", help="CSV with the columns cluster, clean_day, failed_day and factors.")
        parser.add_argument("--json", required=True, dest="out", help="The file to write; - for the screen.")
        parser.add_argument(
            "--factors", help="Columns to compare, with commas; all factor columns if left out."
        )
        parser.add_argument(
            "--adjust", help="Columns that enter every comparison and are not compared themselves."
        )

    def handle(
        self, *args: Any, file: str, out: str, factors: str | None, adjust: str | None, **options: Any
    ) -> None:
        try:
            question = read_question(text_of(Path(file)), names(factors), names(adjust))
        except BadFile as bad:
            raise CommandError(str(bad), returncode=2) from bad
        text = to_json(analyse(question, seed=SEED))
        if out == "-":
            self.stdout.write(text, ending="")
        else:
            write(Path(out), text)


def names(said: str | None) -> list[str] | None:
    return None if said is None else [name.strip() for name in said.split(",") if name.strip()]


def text_of(path: Path) -> str:
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise CommandError(f"Cannot read {path}: {error.strerror}.", returncode=2) from error
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise CommandError(f"line {line}: not UTF-8. Save the file as UTF-8 first.", returncode=2) from error
