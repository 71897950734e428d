from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone, translation

from shopwarranty.desk.handover import HandoverRefusal, hand_over, issue_late
from shopwarranty.jobs.models import Job
from shopwarranty.shops import stored_bytes
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Member, Shop
from shopwarranty.shops.scope import shop_scope


class Command(BaseCommand):
    help = "Writes a job's certificate as PDF; a finished job is handed over first, as the page would do it."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--shop", required=True, metavar="SLUG")
        parser.add_argument("--job", required=True, metavar="REF")
        parser.add_argument("--pdf", required=True, type=Path, metavar="OUT")
        parser.add_argument("--no-mail", action="store_true", help="do not send it to the holder")

    def handle(self, *args: Any, **options: Any) -> None:
        shop = Shop.objects.filter(slug=options["shop"]).first()
        if shop is None:
            raise CommandError(f"There is no shop “{options['shop']}”.", returncode=2)
        with shop_scope(shop), timezone.override(shop.zone), translation.override(shop.language):
            content = self.certificate_of(options["job"], mail=not options["no_mail"])
        try:
            options["pdf"].write_bytes(content)
        except OSError as error:
            raise CommandError(
                f"{options['pdf']} cannot be written: {error.strerror}.", returncode=2
            ) from error
        self.stdout.write(f"{options['pdf']}: {len(content)} bytes")

    def certificate_of(self, ref: str, *, mail: bool) -> bytes:
        job = Job.objects.filter(ref=ref).first()
        if job is None:
            raise CommandError(f"This shop has no job “{ref}”.", returncode=2)
        if job.kind != Job.Kind.CUSTOMER:
            raise CommandError(f"Job “{ref}” is no customer's: nobody is promised anything.", returncode=2)
        try:
            certificate = hand_over(job=job, actor=operator(), now=timezone.now(), mail=mail).certificate
            if certificate is None:
                certificate = issue_late(job=job, actor=operator(), now=timezone.now())
        except HandoverRefusal as refusal:
            raise CommandError("\n".join(gap.words for gap in refusal.gaps), returncode=2) from refusal
        return stored_bytes.read(certificate.pdf_sha256)


def operator() -> Actor:
    """Whoever may type commands on the server acts as the shop's owner would."""
    owner = Member.objects.filter(is_owner=True, left_at__isnull=True).order_by("pk").first()
    return Actor(who="operator", member=owner)
