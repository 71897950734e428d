"""Sending what is due, each at most once: claimed and counted before anybody outside is spoken to."""

import logging
from collections import Counter
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Exists, F, OuterRef, QuerySet

from shopwarranty.shops.models import Shop
from shopwarranty.shops.scope import every_shop, shop_scope

from .actions import park_uncertain
from .addresses import mark_address
from .channels import Channel, Fate, Outcome, channel_named
from .due import Moment
from .hours import held_back
from .models import MarkedAddress, Message, MessageRows

log = logging.getLogger(__name__)
AT_ONCE = 100
TRIES = 20
"""Some four days: RFC 5321, section 4.5.4.1, asks for four or five before a sender gives up."""
BACK_OFF = (
    timedelta(minutes=1),
    timedelta(minutes=5),
    timedelta(minutes=30),
    timedelta(hours=2),
    timedelta(hours=6),
)


@dataclass(frozen=True, slots=True)
class Tally:
    sent: int = 0
    later: int = 0
    refused: int = 0
    unknown: int = 0
    stale: int = 0


class Pass:
    """One pass. Each way of sending is opened once, when its first message is due.

    `marked`: addresses that were found to take nothing while it runs.
    """

    def __init__(self) -> None:
        self._open: dict[str, Channel] = {}
        self.marked: set[tuple[int, str, str]] = set()

    def named(self, name: str) -> Channel:
        if name not in self._open:
            self._open[name] = channel_named(name)
        return self._open[name]

    def close(self) -> None:
        for channel in self._open.values():
            channel.close()


def deliver_due(now: datetime) -> Tally:
    """Sends the messages of all shops that are due at `now`."""
    with every_shop():
        park_uncertain(now)
        marked = MarkedAddress.objects.filter(
            shop=OuterRef("shop"), channel=OuterRef("channel"), address=OuterRef("to"), cleared_at=None
        )
        rows = Message.objects.due(now).select_related("shop").annotate(is_marked=Exists(marked))
        due = list(rows.order_by("not_before", "pk")[:AT_ONCE])
    waits = held_back(due, now)
    going, counts = Pass(), Counter[str]()
    try:
        for message in (row for row in due if row.pk not in waits):
            with shop_scope(message.shop_id):
                if claim(message, now):
                    counts[attempt(message, going, now)] += 1
    finally:
        going.close()
    return Tally(**{fate.value: counts[fate] for fate in Fate})


def undelivered() -> "QuerySet[Shop]":
    """What makes the tick deliver."""
    now = Moment()
    lost = Message.objects.lost(now).filter(shop=OuterRef("pk"))
    return Shop.objects.filter(Exists(Message.objects.due(now)) | Exists(lost))


def claim(message: Message, now: datetime) -> bool:
    """One sender wins, unless another tried since we looked. It counts before any work is done."""
    untried = Message.objects.filter(pk=message.pk, state=Message.State.WAITING, attempts=message.attempts)
    return bool(untried.update(state=Message.State.SENDING, claimed_at=now, attempts=F("attempts") + 1))


def attempt(message: Message, going: Pass, now: datetime) -> Fate:
    """One try. Whatever goes wrong with one row neither stops nor hides the others."""
    if message.not_after and now > message.not_after:
        settle(message, Message.State.DROPPED, now, "too late to be of use")
        return Fate.STALE
    if getattr(message, "is_marked", False) or whereto(message) in going.marked:
        settle(message, Message.State.FAILED, now, "this address takes nothing; see the marked addresses")
        return Fate.REFUSED
    try:
        outcome = going.named(message.channel).send(message)
    except LookupError as error:
        outcome = Outcome(Fate.REFUSED, f"there is no way to send this: {error}")
    except Exception as error:
        log.exception("message %s could not be sent", message.pk)
        outcome = Outcome(Fate.UNKNOWN, f"{type(error).__name__}: {error}")
    if outcome.bad_address:
        going.marked.add(whereto(message))
    return conclude(message, outcome, now)


def whereto(message: Message) -> tuple[int, str, str]:
    return message.shop_id, message.channel, message.to


def conclude(message: Message, outcome: Outcome, now: datetime) -> Fate:
    if outcome.fate is Fate.LATER:
        return later(message, now, outcome.why)
    states = {
        Fate.SENT: Message.State.SENT,
        Fate.REFUSED: Message.State.FAILED,
        Fate.UNKNOWN: Message.State.PARKED,
    }
    settle(message, states[outcome.fate], now, outcome.why)
    if outcome.bad_address:
        source = MarkedAddress.Source.SERVER
        mark_address(channel=message.channel, address=message.to, source=source, why=outcome.why, now=now)
    return outcome.fate


def later(message: Message, now: datetime, why: str) -> Fate:
    tries = message.attempts + 1
    if tries >= TRIES:
        settle(message, Message.State.FAILED, now, why)
        return Fate.REFUSED
    pause = BACK_OFF[min(tries, len(BACK_OFF)) - 1]
    claimed_by_us(message, now).update(state=Message.State.WAITING, not_before=now + pause, error=why)
    return Fate.LATER


def settle(message: Message, state: str, now: datetime, error: str = "") -> None:
    claimed_by_us(message, now).update(state=state, settled_at=now, error=error)


def claimed_by_us(message: Message, now: datetime) -> MessageRows:
    """Still the try that this pass began. One so slow that it was parked meanwhile knows better than that."""
    states = (Message.State.SENDING, Message.State.PARKED)
    ours: MessageRows = Message.objects.filter(
        pk=message.pk, state__in=states, claimed_at=now, attempts=message.attempts + 1
    )
    return ours
