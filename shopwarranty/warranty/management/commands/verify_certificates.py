from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from shopwarranty.shops.models import Shop
from shopwarranty.shops.scope import shop_scope
from shopwarranty.warranty.models import Certificate
from shopwarranty.warranty.proof import faults_of

AT_ONCE = 100


class Command(BaseCommand):
    help = (
        "Proves that stored bytes, snapshots and hashes of all certificates agree, and names what does not."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--shop", default="", metavar="SLUG", help="only this shop")

    def handle(self, *args: Any, **options: Any) -> None:
        shops = Shop.objects.filter(slug=options["shop"]) if options["shop"] else Shop.objects.all()
        if options["shop"] and not shops.exists():
            raise CommandError(f"There is no shop “{options['shop']}”.", returncode=2)
        checked = faulty = 0
        for shop in shops:
            with shop_scope(shop):
                for certificate in Certificate.objects.order_by("pk").iterator(AT_ONCE):
                    faults = list(faults_of(certificate))
                    checked, faulty = checked + 1, faulty + bool(faults)
                    for fault in faults:
                        self.stderr.write(f"{shop.slug}: {fault.certificate}: {fault.what}")
        self.stdout.write(f"{checked} certificates checked, {faulty} do not agree.")
        if faulty:
            raise CommandError("Some certificates do not agree with what was issued.", returncode=1)
