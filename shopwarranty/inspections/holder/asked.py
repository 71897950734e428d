"""How often the same is asked within an hour, so that nobody tries things in a row. No address is kept."""

import hashlib
import hmac
from datetime import datetime, timedelta
from typing import Final

from django.conf import settings
from django.db.models import F

from ..models import AskedOften

KEPT: Final = timedelta(days=2)


def too_often(what: str, who: str, *, at_most: int, now: datetime) -> bool:
    """Counts this one; True when it is one too many in this hour. `who` is hashed with our key."""
    key = hmac.digest(settings.SECRET_KEY.encode(), f"{what} {who}".encode(), hashlib.sha256).hex()
    hour = now.replace(minute=0, second=0, microsecond=0)
    row, _new = AskedOften.objects.get_or_create(who=key, hour=hour)
    AskedOften.objects.filter(pk=row.pk).update(times=F("times") + 1)
    row.refresh_from_db(fields=["times"])
    return row.times > at_most


def sweep(now: datetime) -> int:
    """A step of the tick: counts of two days ago are of no use."""
    return int(AskedOften.objects.filter(hour__lt=now - KEPT).delete()[0])
