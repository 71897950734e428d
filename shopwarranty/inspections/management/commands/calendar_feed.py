from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone, translation

from shopwarranty.inspections.feeds.contents import shop_calendar
from shopwarranty.shops.models import Shop
from shopwarranty.shops.scope import shop_scope


class Command(BaseCommand):
    help = "Writes a shop's appointments of checks as an iCalendar file: no names, no plates."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--shop", required=True, help="the shop's short name in its address")
        parser.add_argument("--out", required=True, type=Path, help="file to write")

    def handle(self, *args: Any, **options: Any) -> None:
        shop = Shop.objects.filter(slug=options["shop"]).first()
        if shop is None:
            raise CommandError(f"There is no shop {options['shop']}.")
        now = timezone.now()
        with shop_scope(shop), translation.override(shop.language):
            content = shop_calendar(shop, now=now, today=now.astimezone(shop.zone).date())
        out: Path = options["out"]
        try:
            out.write_bytes(content)
        except OSError as error:
            raise CommandError(f"{out} cannot be written: {error.strerror}.") from error
        self.stdout.write(f"{out}: {content.count(b'BEGIN:VEVENT')} appointments of {shop.name}")
