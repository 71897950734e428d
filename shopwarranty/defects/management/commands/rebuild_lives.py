from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from shopwarranty.defects.lives import Rebuilt, differences, rebuild_lives
from shopwarranty.shops.models import Shop
from shopwarranty.shops.scope import shop_scope


class Command(BaseCommand):
    help = "Derives the life of every place anew from the record, for one shop or all."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--shop", help="Only the shop with this slug.")
        parser.add_argument("--check", action="store_true", help="Only say whether stored equals derived.")

    def handle(self, *args: Any, shop: str | None, check: bool, **options: Any) -> None:
        shops = Shop.objects.filter(slug=shop) if shop else Shop.objects.order_by("slug")
        if shop and not shops:
            raise CommandError(f'There is no shop "{shop}".', returncode=2)
        found = {one.slug: self.one(one, check=check) for one in shops}
        if check and any(result.total for result in found.values()):
            raise CommandError("Stored lives differ from the record. Run rebuild_lives.", returncode=2)

    def one(self, shop: Shop, *, check: bool) -> Rebuilt:
        with shop_scope(shop):
            result = differences() if check else rebuild_lives()
        counts = f"{result.made} missing, {result.changed} different, {result.dropped} too many"
        self.stdout.write(f"{shop.slug}: {counts}" + ("" if check else ", put right"))
        return result
