import sys
from argparse import ArgumentParser
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.core.validators import URLValidator, validate_email, validate_slug
from django.utils import timezone

from shopwarranty.desk.new_shop import open_shop
from shopwarranty.shops.actions import SlugTaken, person, sign_in_path
from shopwarranty.shops.models import Shop, User

LOCAL = "http://127.0.0.1:8000"


class Command(BaseCommand):
    help = "Opens an empty shop and prints the owner's one-time sign-in link."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--slug", required=True, help="short name in the address, e.g. kiln-lane")
        parser.add_argument("--name", required=True)
        parser.add_argument("--owner", required=True, metavar="EMAIL")
        parser.add_argument("--owner-name", default="")
        parser.add_argument("--time-zone", default="UTC")
        parser.add_argument("--units", default="metric", choices=Shop.Units.values)
        parser.add_argument("--legal-profile", default="other", choices=Shop.LegalProfile.values)
        parser.add_argument("--public-url", default="", help="where customers reach it, with https")
        parser.add_argument(
            "--password-stdin",
            action="store_true",
            help="read the owner's password from standard input, instead of printing a sign-in link",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        password = sys.stdin.readline().rstrip("\n") if options["password_stdin"] else None
        faults = [
            fault
            for fault in (
                *(slug_fault(options), mail_fault(options), zone_fault(options), url_fault(options)),
                password_fault(password, options),
            )
            if fault
        ]
        if faults:
            raise CommandError("\n".join(faults), returncode=2)
        try:
            shop = open_shop(
                slug=options["slug"],
                name=options["name"],
                owner_email=options["owner"],
                owner_name=options["owner_name"] or options["owner"].partition("@")[0],
                now=timezone.now(),
                time_zone=options["time_zone"],
                units=options["units"],
                legal_profile=options["legal_profile"],
                public_url=options["public_url"].rstrip("/"),
                certificate_prefix=prefix_of(options["name"]),
                password=password,
            )
        except SlugTaken as taken:
            raise CommandError(
                f"There is a shop “{taken}” already. Choose another --slug.", returncode=2
            ) from taken
        if password:
            self.stdout.write(f"{shop.name} is open. {options['owner']} signs in with the password given.")
            return
        path = sign_in_path(person(email=options["owner"], name=""))
        self.stdout.write(f"{shop.name} is open. The owner's link, which works once:")
        self.stdout.write(f"{shop.public_url or LOCAL}{path}")


def prefix_of(name: str) -> str:
    """Two letters for the certificate numbers, from the first words of the name."""
    letters = [word[0] for word in name.upper().split() if "A" <= word[0] <= "Z"]
    return ("".join(letters) + "SW")[:2]


def slug_fault(options: dict[str, Any]) -> str:
    try:
        validate_slug(options["slug"])
    except ValidationError:
        return "--slug: small letters, digits and dashes only."
    return ""


def mail_fault(options: dict[str, Any]) -> str:
    try:
        validate_email(options["owner"])
    except ValidationError:
        return "--owner: that is no e-mail address."
    return ""


def zone_fault(options: dict[str, Any]) -> str:
    try:
        ZoneInfo(options["time_zone"])
    except (ZoneInfoNotFoundError, ValueError):
        return "--time-zone: unknown; write it like America/New_York or Europe/Berlin."
    return ""


def password_fault(password: str | None, options: dict[str, Any]) -> str:
    """An owner who signs in to another shop here already keeps the password they have."""
    if password is None:
        return ""
    if User.objects.filter(email=options["owner"].lower()).exists():
        return "--owner: this address signs in here already; leave the password out, and it stays as it is."
    try:
        validate_password(password, User(email=options["owner"], name=options["owner_name"]))
    except ValidationError as error:
        return f"--password-stdin: {' '.join(error.messages)}"
    return ""


def url_fault(options: dict[str, Any]) -> str:
    if not options["public_url"]:
        return ""
    try:
        URLValidator(schemes=["https"])(options["public_url"])
    except ValidationError:
        return "--public-url: an address that starts with https://."
    return ""
