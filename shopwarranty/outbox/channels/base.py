"""What every way of sending answers to. Whoever adds one writes a class with `open`, `send` and `close`."""

import hashlib
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

from ..models import Message


class Fate(StrEnum):
    SENT = "sent"
    LATER = "later"
    REFUSED = "refused"
    UNKNOWN = "unknown"
    STALE = "stale"


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one try. `bad_address`: the other side says that this address takes nothing."""

    fate: Fate
    why: str = ""
    bad_address: bool = False


class Channel(Protocol):
    """One pass: opened when its first message is due, closed at the end. `send` raises nothing."""

    def send(self, message: Message) -> Outcome:
        """Tries once. UNKNOWN when it may have arrived: such a message is never tried again by itself."""
        ...

    def close(self) -> None: ...


def call_id(message: Message) -> str:
    """The same for every try of one message, so that the other side can take it once."""
    return hashlib.sha256(f"{message.shop_id}/{message.key}".encode()).hexdigest()[:40]
