"""Sending what is due, each at most once: claimed and counted before the mail server is spoken to."""

import smtplib
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from django.core.mail import EmailMultiAlternatives, get_connection
from django.core.mail.backends.base import BaseEmailBackend
from django.db.models import F

from shopwarranty.shops import stored_bytes
from shopwarranty.shops.scope import every_shop, shop_scope

from .actions import park_uncertain
from .models import Message

AT_ONCE = 100
TRIES = 5
BACK_OFF = (
    timedelta(minutes=1),
    timedelta(minutes=5),
    timedelta(minutes=30),
    timedelta(hours=2),
    timedelta(hours=6),
)


class Fate(StrEnum):
    SENT = "sent"
    LATER = "later"
    REFUSED = "refused"
    UNKNOWN = "unknown"
    STALE = "stale"


@dataclass(frozen=True, slots=True)
class Tally:
    sent: int = 0
    later: int = 0
    refused: int = 0
    unknown: int = 0
    stale: int = 0


def deliver_due(now: datetime) -> Tally:
    """Sends the messages of all shops that are due at `now`."""
    counts = dict.fromkeys((fate.value for fate in Fate), 0)
    with every_shop():
        park_uncertain(now)
        due = list(Message.objects.due(now).order_by("not_before", "pk")[:AT_ONCE])
    if not due:
        return Tally()
    connection = get_connection()
    try:
        for message in due:
            with shop_scope(message.shop_id):
                if claim(message, now):
                    counts[attempt(message, connection, now)] += 1
    finally:
        connection.close()
    return Tally(**counts)


def claim(message: Message, now: datetime) -> bool:
    """One sender wins. The attempt counts before any work is done."""
    return bool(
        Message.objects.filter(pk=message.pk, state=Message.State.WAITING).update(
            state=Message.State.SENDING, claimed_at=now, attempts=F("attempts") + 1
        )
    )


def attempt(message: Message, connection: BaseEmailBackend, now: datetime) -> Fate:
    if message.not_after and now > message.not_after:
        settle(message, Message.State.DROPPED, now, "too late to be of use")
        return Fate.STALE
    try:
        mail = compose(message, connection)
        connection.open()
    except stored_bytes.DamagedFile as error:
        settle(message, Message.State.FAILED, now, str(error))
        return Fate.REFUSED
    except (OSError, smtplib.SMTPException) as error:
        return later(message, now, f"the mail server cannot be reached: {error}")
    return speak(message, mail, now)


def speak(message: Message, mail: EmailMultiAlternatives, now: datetime) -> Fate:
    """What the server answered decides; no answer is not guessed at."""
    try:
        mail.send()
    except smtplib.SMTPRecipientsRefused as error:
        settle(message, Message.State.FAILED, now, f"address refused: {error.recipients}")
        return Fate.REFUSED
    except smtplib.SMTPResponseException as error:
        if 400 <= error.smtp_code < 500:
            return later(message, now, f"{error.smtp_code} {error.smtp_error!r}")
        settle(message, Message.State.FAILED, now, f"{error.smtp_code} {error.smtp_error!r}")
        return Fate.REFUSED
    except (OSError, smtplib.SMTPException) as error:
        settle(message, Message.State.PARKED, now, f"connection lost while sending: {error}")
        return Fate.UNKNOWN
    settle(message, Message.State.SENT, now)
    return Fate.SENT


def later(message: Message, now: datetime, why: str) -> Fate:
    tries = message.attempts + 1
    if tries >= TRIES:
        settle(message, Message.State.FAILED, now, why)
        return Fate.REFUSED
    Message.objects.filter(pk=message.pk).update(
        state=Message.State.WAITING, not_before=now + BACK_OFF[tries - 1], error=why
    )
    return Fate.LATER


def settle(message: Message, state: str, now: datetime, error: str = "") -> None:
    Message.objects.filter(pk=message.pk, state=Message.State.SENDING).update(
        state=state, settled_at=now, error=error
    )


def compose(message: Message, connection: BaseEmailBackend) -> EmailMultiAlternatives:
    mail = EmailMultiAlternatives(
        subject=message.subject,
        body=message.text,
        to=[message.to],
        reply_to=[message.shop.email] if message.shop.email else None,
        headers={"Auto-Submitted": "auto-generated", **message.headers},
        connection=connection,
    )
    if message.html:
        mail.attach_alternative(message.html, "text/html")
    for file in message.attachments:
        mail.attach(file["name"], stored_bytes.read(file["sha256"]), file["content_type"])
    return mail
