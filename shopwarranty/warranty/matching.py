"""Whether a plate or the last six of a VIN belong to a certificate: yes or no, and nothing else.

Counted per certificate and address asked from, and per certificate altogether, so that nobody tries plates in
a row. Comparing takes the same time whatever was typed.
"""

import hashlib
import hmac
from datetime import datetime, timedelta

from django.conf import settings
from django.db.models import F, Sum

from shopwarranty.jobs.models import Plate
from shopwarranty.jobs.plates import searched_form
from shopwarranty.shops.scope import every_shop

from .models import Certificate, MatchTry
from .snapshot_parts import read_snapshot

PER_HOUR = 10
PER_DAY = 60
KEPT = timedelta(days=2)


class AskedTooOften(Exception):
    """Too many tries; later again."""


class NotRecorded(Exception):
    """What was typed is nowhere, but plate or VIN is not recorded: that it differs cannot be said."""


def matches(*, certificate: Certificate, typed: str, asked_from: str, now: datetime) -> bool:
    """Counts the question first. Raises AskedTooOften; NotRecorded where unknown would be read as no."""
    count(certificate, asked_from, now)
    snapshot = read_snapshot(certificate.snapshot)
    plates = list(Plate.objects.filter(vehicle=certificate.vehicle, until__isnull=True))
    by_plate = [searched_form(snapshot.vehicle.plate), *(plate.searched for plate in plates)]
    by_vin = [searched_form(snapshot.vehicle.vin_end), searched_form(snapshot.vehicle.vin)]
    given = digest(searched_form(typed[:40]))
    same = sum(hmac.compare_digest(given, digest(each)) for each in [*by_plate, *by_vin] if each)
    if not same and not (any(by_plate) and any(by_vin)):
        raise NotRecorded
    return bool(same)


def digest(text: str) -> bytes:
    return hmac.digest(settings.SECRET_KEY.encode(), text.encode(), hashlib.sha256)


def count(certificate: Certificate, asked_from: str, now: datetime) -> None:
    who = digest(f"match {asked_from}").hex()[:32]
    hour = now.replace(minute=0, second=0, microsecond=0)
    row, _ = MatchTry.objects.get_or_create(certificate=certificate, who=who, hour=hour)
    MatchTry.objects.filter(pk=row.pk).update(times=F("times") + 1)
    row.refresh_from_db(fields=["times"])
    today = MatchTry.objects.filter(certificate=certificate, hour__gt=now - timedelta(days=1))
    if row.times > PER_HOUR or (today.aggregate(all=Sum("times"))["all"] or 0) > PER_DAY:
        raise AskedTooOften


def sweep(now: datetime) -> int:
    """A step of the tick: counts of two days ago are of no use."""
    with every_shop():
        return int(MatchTry.objects.filter(hour__lt=now - KEPT).delete()[0])
