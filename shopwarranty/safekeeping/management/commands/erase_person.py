from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from shopwarranty.jobs.models import Party
from shopwarranty.safekeeping.of_person import add_person, person_of
from shopwarranty.safekeeping.personal.asking import AlreadyErased, ask_erasure
from shopwarranty.safekeeping.personal.standing import NOTHING, standings


class Command(BaseCommand):
    help = (
        "Erases one person, or restricts them until nothing obliges the shop to keep them. Shows why first."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        add_person(parser)
        parser.add_argument("--how", default="", metavar="WORDS", help="how they asked: by letter of ...")
        parser.add_argument("--yes", action="store_true", help="do it; without, only what keeps them is said")

    def handle(self, *args: Any, **options: Any) -> None:
        now = timezone.now()
        with person_of(options) as (party, actor):
            today = now.astimezone(party.shop.zone).date()
            self.say_why(party, today)
            if not options["yes"]:
                self.stdout.write("Nothing was changed. Add --yes to do it.")
                return
            try:
                row = ask_erasure(party=party, how=options["how"], actor=actor, today=today, now=now)
            except AlreadyErased as error:
                raise CommandError("There is nothing left of this person.", returncode=1) from error
        later = f"Restricted; erased after {row.erase_on}." if row.erase_on else "Restricted."
        self.stdout.write("Erased." if row.erased_at else later)

    def say_why(self, party: Party, today: Any) -> None:
        standing = standings([party.pk], party.shop, today).get(party.pk, NOTHING)
        for reason in standing.reasons:
            self.stdout.write(f"Stays for now: {reason.words(party.shop)}")
        if not standing.reasons:
            self.stdout.write("Nothing keeps this person.")
