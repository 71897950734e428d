from argparse import ArgumentParser
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from shopwarranty.demo.loading import load_demo
from shopwarranty.demo.people import SHOP_SLUG, lines
from shopwarranty.demo.writing.shop import ZONE


class Command(BaseCommand):
    help = "Loads the demo shop, an invented one with two years of jobs. An existing one stays as it is."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--today", default="", metavar="DATE", help="the shop's day, like 2026-11-25")

    def handle(self, *args: Any, **options: Any) -> None:
        shop = load_demo(day_of(options["today"]))
        if shop is None:
            self.stdout.write("The demo shop is here already; it stays as it is.")
        else:
            self.stdout.write(f"{shop.name}, the demo shop, is open at /s/{SHOP_SLUG}/.")
        self.stdout.write("Its people sign in with these:")
        for line in lines():
            self.stdout.write(f"  {line}")


def day_of(said: str) -> date:
    """Today is the day it is where the demo shop stands."""
    if not said:
        return timezone.now().astimezone(ZoneInfo(ZONE)).date()
    try:
        return date.fromisoformat(said)
    except ValueError as error:
        raise CommandError("--today: write the day like 2026-11-25.", returncode=2) from error
