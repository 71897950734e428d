"""What the commands about one person share."""

from argparse import ArgumentParser
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from django.core.management.base import CommandError
from django.utils import timezone, translation

from shopwarranty.jobs.models import Party
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Member, Shop
from shopwarranty.shops.scope import shop_scope


def add_person(parser: ArgumentParser) -> None:
    parser.add_argument("--shop", required=True, metavar="SLUG")
    parser.add_argument(
        "--person", required=True, type=int, metavar="ID", help="the number in the page's address"
    )


@contextmanager
def person_of(options: Mapping[str, Any]) -> Iterator[tuple[Party, Actor]]:
    """In the shop's scope, zone and language. Whoever may type commands acts as the shop's owner would."""
    shop = Shop.objects.filter(slug=options["shop"]).first()
    if shop is None:
        raise CommandError(f"There is no shop “{options['shop']}”.", returncode=2)
    with shop_scope(shop), timezone.override(shop.zone), translation.override(shop.language):
        party = Party.objects.select_related("shop").filter(pk=options["person"]).first()
        if party is None:
            raise CommandError(f"This shop has no person {options['person']}.", returncode=2)
        owner = Member.objects.filter(is_owner=True, left_at__isnull=True).order_by("pk").first()
        yield party, Actor(who="operator", member=owner)
