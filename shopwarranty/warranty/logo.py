"""The shop's logo on its certificates: a picture sent in, cleaned like every photo, and only then kept."""

from datetime import datetime

from django.conf import settings
from django.db import transaction

from shopwarranty.jobs.clean_photo import clean_photo
from shopwarranty.shops import stored_bytes
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Change, Shop


def set_logo(*, shop: Shop, sent: bytes, actor: Actor, now: datetime) -> str:
    """The hash it is kept under. Certificates already issued keep the one they have. Raises PhotoRefused."""
    cleaned = clean_photo(sent, max_bytes=settings.MAX_UPLOAD_BYTES, max_pixels=settings.MAX_PHOTO_PIXELS)
    sha256 = stored_bytes.keep(cleaned.content).sha256
    _store(shop, sha256, actor, now)
    return sha256


def remove_logo(*, shop: Shop, actor: Actor, now: datetime) -> None:
    _store(shop, "", actor, now)


@transaction.atomic
def _store(shop: Shop, sha256: str, actor: Actor, now: datetime) -> None:
    before = shop.logo_sha256
    Shop.objects.filter(pk=shop.pk).update(logo_sha256=sha256)
    shop.logo_sha256 = sha256
    Change.objects.create(
        at=now,
        member=actor.member,
        who=actor.who,
        act="logo on certificates",
        table=Shop._meta.db_table,
        row=shop.pk,
        before={"logo": before},
        after={"logo": sha256},
    )
