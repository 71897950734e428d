from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from shopwarranty.defects.lives import Rebuilt, differences, rebuild_lives
from shopwarranty.review.kept_lives import keep_lives, kept_is_right
from shopwarranty.shops.models import Shop
from shopwarranty.shops.scope import shop_scope


class Command(BaseCommand):
    help = "Derives the life of every place anew from the record and packs them, for one shop or all."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--shop", help="Only the shop with this slug.")
        parser.add_argument("--check", action="store_true", help="Only say whether stored equals derived.")

    def handle(self, *args: Any, shop: str | None, check: bool, **options: Any) -> None:
        shops = Shop.objects.filter(slug=shop) if shop else Shop.objects.order_by("slug")
        if shop and not shops:
            raise CommandError(f'There is no shop "{shop}".', returncode=2)
        right = [self.checked(one) if check else self.rebuilt(one) for one in shops]
        if not all(right):
            raise CommandError("Stored lives differ from the record. Run rebuild_lives.", returncode=2)

    def checked(self, shop: Shop) -> bool:
        with shop_scope(shop):
            found, packed = differences(), kept_is_right(shop)
        self.stdout.write(f"{shop.slug}: {counted(found)}" + ("" if packed else "; the packed lives differ"))
        return packed and not found.total

    def rebuilt(self, shop: Shop) -> bool:
        with shop_scope(shop):
            found = rebuild_lives()
            packed = keep_lives(shop, timezone.now())
        self.stdout.write(f"{shop.slug}: {counted(found)}, put right; {packed} packed")
        return True


def counted(found: Rebuilt) -> str:
    return f"{found.made} missing, {found.changed} different, {found.dropped} too many"
