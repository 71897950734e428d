"""The private address of a holder's page: signed, with a scope and an end, revocable row by row.

A token is the link's random id followed by a signature over it. Only a hash of the token is stored, so that a
copy of the database opens nothing; whoever writes a message gets the same address again by signing anew.
A link works only as long as its party stands in a relation to the vehicle.
"""

import base64
import binascii
import hashlib
import hmac
from collections.abc import Iterable
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Final
from uuid import UUID, uuid4

from django.conf import settings
from django.db.models import Exists, OuterRef, QuerySet
from django.urls import reverse

from shopwarranty.jobs.models import HolderLink, Holding, Job, Party, Vehicle
from shopwarranty.shops.models import Shop
from shopwarranty.shops.scope import every_shop

from ..models import Booking, Check

LASTS: Final = timedelta(days=180)
RENEWED_BEFORE: Final = timedelta(days=60)
LOCAL: Final = "http://localhost:8000"
SIGNATURE: Final = 16
OF_PAPERS: Final = (Holding.Role.HOLDER, Holding.Role.OWNER)
Subject = Check | Booking | Job | Vehicle


class Scope(StrEnum):
    """What a link opens: everything, or all but the certificate (for a contact who is not the holder)."""

    HOLDER = "holder"
    CONTACT = "contact"


def holder_link(about: Subject, *, to: Party, now: datetime) -> str:
    """The address of the page for whoever gets the message; the same one while it is good for long enough.

    "" for somebody who stands in no relation to the vehicle (any more). Call inside the shop's scope.
    """
    vehicle = vehicle_of(about)
    return holder_links([(vehicle, to)], now=now).get((vehicle.pk, to.pk), "")


def holder_links(pairs: Iterable[tuple[Vehicle, Party]], *, now: datetime) -> dict[tuple[int, int], str]:
    """As `holder_link` for many at once, in four queries: addresses by vehicle and party."""
    wanted = {(vehicle.pk, party.pk): (vehicle, party) for vehicle, party in pairs}
    scopes = _scopes(wanted)
    standing = _standing(wanted, now)
    missing = [key for key in scopes if key not in standing]
    made = [_new(*wanted[key], scopes[key], now) for key in missing]
    HolderLink.objects.bulk_create(made)
    standing |= {(link.vehicle_id, link.party_id): link for link in made}
    shops = Shop.objects.in_bulk({vehicle.shop_id for vehicle, _party in wanted.values()})
    return {key: address_of(standing[key], shops[wanted[key][0].shop_id]) for key in scopes}


def open_link(vehicle: Vehicle, party: Party, *, lasts: timedelta, now: datetime) -> str:
    """A fresh link that ends soon, as the token alone: for whoever has just proved who he is."""
    scope = _scopes([(vehicle.pk, party.pk)])[vehicle.pk, party.pk]
    link = _new(vehicle, party, scope, now, lasts)
    link.save()
    return token_of(link.uid)


def revoke_links(*, vehicle: Vehicle, now: datetime, party: Party | None = None) -> int:
    """From now on these open nothing; a later message brings a new one."""
    links = HolderLink.objects.filter(vehicle=vehicle, revoked_at__isnull=True)
    links = links.filter(party=party) if party else links
    return int(links.update(revoked_at=now))


def find_link(token: str, now: datetime) -> HolderLink | None:
    """The link a token opens. Whatever is wrong with it, one query is asked and one signature compared."""
    signed = is_signed(token)
    with every_shop():
        still = Holding.objects.filter(
            vehicle=OuterRef("vehicle"), party=OuterRef("party"), until__isnull=True
        ).exclude(role=Holding.Role.PAYER)
        rows = HolderLink.objects.select_related("shop", "vehicle__shop", "party")
        good = rows.filter(token_hash=hash_of(token), revoked_at__isnull=True, expires_at__gt=now)
        link: HolderLink | None = good.filter(Exists(still)).first()
    return link if signed else None


def token_of(uid: UUID) -> str:
    return _text(uid.bytes + _signature(uid.bytes, settings.SECRET_KEY))


def is_signed(token: str) -> bool:
    """By the present key, or one that is still accepted."""
    try:
        content = base64.b64decode(token[:64] + "=", altchars=b"-_", validate=True)
    except (binascii.Error, ValueError):
        content = b""
    uid, given = content[:16], content[16:]
    keys = [settings.SECRET_KEY, *map(str, settings.SECRET_KEY_FALLBACKS)]
    same = [hmac.compare_digest(given, _signature(uid, key)) for key in keys]
    return any(same) and len(uid) == 16


def hash_of(token: str) -> str:
    return hashlib.sha256(token[:64].encode()).hexdigest()


def path_of(token: str) -> str:
    return reverse("holder", args=[token])


def address_of(link: HolderLink, shop: Shop) -> str:
    start = (shop.public_url or settings.PUBLIC_URL).rstrip("/") or LOCAL
    return f"{start}{path_of(token_of(link.uid))}"


def vehicle_of(about: Subject) -> Vehicle:
    if isinstance(about, Booking):
        about = about.check_due
    if isinstance(about, Check):
        about = about.job
    return about.vehicle if isinstance(about, Job) else about


def _signature(content: bytes, key: str) -> bytes:
    return hmac.digest(key.encode(), b"holder link " + content, hashlib.sha256)[:SIGNATURE]


def _text(content: bytes) -> str:
    return base64.urlsafe_b64encode(content).rstrip(b"=").decode()


def _new(vehicle: Vehicle, party: Party, scope: Scope, now: datetime, lasts: timedelta = LASTS) -> HolderLink:
    uid = uuid4()
    return HolderLink(
        uid=uid,
        vehicle=vehicle,
        party=party,
        token_hash=hash_of(token_of(uid)),
        scope=scope,
        made_at=now,
        expires_at=now + lasts,
    )


def _scopes(pairs: Iterable[tuple[int, int]]) -> dict[tuple[int, int], Scope]:
    """Holder and owner may see the papers, a contact may not, whoever only pays gets no link."""
    asked = set(pairs)
    rows: QuerySet[Holding] = Holding.objects.filter(
        vehicle__in={vehicle for vehicle, _party in asked},
        party__in={party for _vehicle, party in asked},
        until__isnull=True,
    ).exclude(role=Holding.Role.PAYER)
    found: dict[tuple[int, int], Scope] = {}
    for vehicle, party, role in rows.values_list("vehicle", "party", "role"):
        if (vehicle, party) in asked and found.get((vehicle, party)) != Scope.HOLDER:
            found[vehicle, party] = Scope.HOLDER if role in OF_PAPERS else Scope.CONTACT
    return found


def _standing(pairs: Iterable[tuple[int, int]], now: datetime) -> dict[tuple[int, int], HolderLink]:
    """Links that are good for a while yet, and whose token the present key still gives."""
    asked = set(pairs)
    rows = HolderLink.objects.filter(
        vehicle__in={vehicle for vehicle, _party in asked},
        party__in={party for _vehicle, party in asked},
        revoked_at__isnull=True,
        expires_at__gt=now + RENEWED_BEFORE,
    ).order_by("expires_at", "pk")
    return {
        (row.vehicle_id, row.party_id): row
        for row in rows
        if (row.vehicle_id, row.party_id) in asked and row.token_hash == hash_of(token_of(row.uid))
    }
