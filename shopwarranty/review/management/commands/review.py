"""The review of a shop as JSON, with the keys of `review_file`."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from shopwarranty.analysis.review_json import to_json
from shopwarranty.review.lives import LifeTable, version_of
from shopwarranty.review.opened import without_installers
from shopwarranty.review.reviewing import life_table, review_of
from shopwarranty.review.selection import Part, Selection, families
from shopwarranty.shops.models import Shop
from shopwarranty.shops.scope import shop_scope


class Command(BaseCommand):
    help = "Writes the figures of a shop's review as JSON: its largest film family unless one is named."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--shop", required=True, help="The shop's slug.")
        parser.add_argument("--json", required=True, dest="out", help="The file to write; - for the screen.")
        parser.add_argument("--family", default="", help="The film family, such as clear-protective.")
        parser.add_argument(
            "--surface", action="store_true", help="The surface instead of edges and recesses."
        )

    def handle(self, *args: Any, shop: str, out: str, family: str, surface: bool, **options: Any) -> None:
        found = Shop.objects.filter(slug=shop).first()
        if found is None:
            raise CommandError(f'There is no shop "{shop}".', returncode=2)
        with shop_scope(found):
            text = self.review(found, family, Part.SURFACE if surface else Part.ENDS)
        if out == "-":
            self.stdout.write(text, ending="")
        else:
            write(Path(out), text)

    def review(self, shop: Shop, family: str, part: Part) -> str:
        version = version_of(shop)
        table = life_table(shop, version)
        wanted = self.family(table, family)
        review = review_of(shop, Selection(wanted, part), table, version).review
        shown = frozenset(table.installers) if shop.installer_figures else frozenset()
        return to_json(without_installers(review, shown))

    def family(self, table: LifeTable, wanted: str) -> str:
        known = families(table)
        if wanted and wanted not in known:
            there = ", ".join(known) or "none yet"
            raise CommandError(f'No lives in film family "{wanted}". On record: {there}.', returncode=2)
        if not wanted and len(known) > 1:
            rest = ", ".join(known[1:])
            self.stderr.write(f"Film families are never mixed: this is {known[0]}; also on record: {rest}.")
        return wanted or (known[0] if known else "")


def write(path: Path, text: str) -> None:
    try:
        path.write_text(text, encoding="utf-8", newline="\n")
    except OSError as error:
        raise CommandError(f"Cannot write {path}: {error.strerror}.", returncode=2) from error
