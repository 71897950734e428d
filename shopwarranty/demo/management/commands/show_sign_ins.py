from typing import Any

from django.core.management.base import BaseCommand, CommandError

from shopwarranty.demo.people import SHOP_SLUG, lines
from shopwarranty.shops.models import Shop


class Command(BaseCommand):
    help = "Prints how the people of the demo shop sign in."

    def handle(self, *args: Any, **options: Any) -> None:
        if not Shop.objects.filter(slug=SHOP_SLUG, is_demo=True).exists():
            raise CommandError("There is no demo shop here. Load it with load_demo.", returncode=2)
        for line in lines():
            self.stdout.write(line)
