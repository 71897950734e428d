"""From a paper to the holder's page: number and code of the certificate, then a code sent to its holder.

What is answered never says whether there is an address, or whether a mail went out. A code works once, for
twenty minutes, and after five wrong ones no more; it is compared in constant time.
"""

import hashlib
import hmac
import secrets
from datetime import datetime, timedelta
from typing import Final

from django.conf import settings
from django.db import transaction
from django.db.models import F
from django.template.loader import render_to_string
from django.utils.translation import gettext as _
from django.utils.translation import override

from shopwarranty.jobs.models import Holding, Party
from shopwarranty.outbox.actions import put_message
from shopwarranty.outbox.models import ONE_TIME_CODE
from shopwarranty.warranty.models import Certificate
from shopwarranty.warranty.telling import can_be_written_to

from ..models import OneTimeCode
from .asked import too_often
from .links import open_link

LASTS: Final = timedelta(minutes=20)
MOST_WRONG: Final = 5
SENT_AN_HOUR: Final = 3
TRIED_AN_HOUR: Final = 15
PAGE_LASTS: Final = timedelta(days=1)
DIGITS: Final = 6


def send_code(*, certificate: Certificate, asked_from: str, now: datetime) -> None:
    """Sends a code to the holder, if there is anybody to send one to. Says nothing about it either way.

    The same is done in both cases and only kept in one, so that the time it takes says nothing either.
    """
    by_paper = too_often("codes of", str(certificate.pk), at_most=SENT_AN_HOUR, now=now)
    by_asker = too_often("codes for", asked_from, at_most=SENT_AN_HOUR * 2, now=now)
    code = f"{secrets.randbelow(10**DIGITS):0{DIGITS}}"
    with transaction.atomic():
        may = _may_be_sent(certificate) and not (by_paper or by_asker)
        _send(certificate, code, now)
        transaction.set_rollback(not may)


def _may_be_sent(certificate: Certificate) -> bool:
    """Only for a paper in force, to whoever it is made out to and who still has the vehicle."""
    party: Party = certificate.holder
    stands = Holding.objects.filter(vehicle=certificate.vehicle_id, party=party, until__isnull=True)
    in_force = certificate.state == Certificate.State.ISSUED and certificate.holder_hidden_at is None
    return in_force and can_be_written_to(party) and stands.exclude(role=Holding.Role.PAYER).exists()


def _send(certificate: Certificate, code: str, now: datetime) -> None:
    party, shop = certificate.holder, certificate.shop
    row = OneTimeCode.objects.create(
        vehicle=certificate.vehicle, party=party, code_hash="", made_at=now, expires_at=now + LASTS
    )
    row.code_hash = _hash(row.pk, code)
    row.save(update_fields=["code_hash"])
    language = party.language or shop.language
    with override(language):
        words = {"shop": shop, "code": code, "minutes": int(LASTS.total_seconds() // 60)}
        put_message(
            key=f"{ONE_TIME_CODE}{row.pk}",
            to=party.email,
            to_name=party.name,
            subject=_("Your code for the film warranty: %(code)s") % {"code": code},
            text=render_to_string("inspections/mail/code.txt", words),
            about=f"one-time-code:{row.pk}",
            language=language,
            not_after=now + LASTS,
            now=now,
        )


def token_for(*, certificate: Certificate, typed: str, asked_from: str, now: datetime) -> str:
    """The token of a page open for a day; "" when the code is wrong, used or over, or tried too often."""
    by_paper = too_often("tries of", str(certificate.pk), at_most=TRIED_AN_HOUR, now=now)
    by_asker = too_often("tries from", asked_from, at_most=TRIED_AN_HOUR, now=now)
    row = OneTimeCode.objects.filter(vehicle=certificate.vehicle_id, party=certificate.holder_id)
    last = row.order_by("-made_at", "-pk").first()
    right = hmac.compare_digest(
        _hash(last.pk if last else 0, "".join(typed.split())), last.code_hash if last else _hash(0, "none")
    )
    if last is None or by_paper or by_asker or not _may_be_sent(certificate):
        return ""
    if not _used_up(last, right, now):
        return ""
    return open_link(certificate.vehicle, certificate.holder, lasts=PAGE_LASTS, now=now)


def _used_up(row: OneTimeCode, right: bool, now: datetime) -> bool:
    """Whether this was the one time it works; counts a wrong one. Two at once: one of them is the one."""
    still = OneTimeCode.objects.filter(
        pk=row.pk, used_at__isnull=True, expires_at__gt=now, wrong__lt=MOST_WRONG
    )
    if right:
        return still.update(used_at=now) == 1
    still.update(wrong=F("wrong") + 1)
    return False


def _hash(row: int, code: str) -> str:
    return hmac.digest(settings.SECRET_KEY.encode(), f"one-time {row} {code}".encode(), hashlib.sha256).hex()
