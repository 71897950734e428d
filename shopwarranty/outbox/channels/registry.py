"""Which ways there are on this installation."""

from collections.abc import Callable
from typing import Final

from .base import Channel
from .hook import HookChannel, hook_target
from .mail import MailChannel

MAIL: Final = "mail"
TEXT: Final = "text"


def _hook() -> Channel:
    target = hook_target()
    if target is None:
        raise LookupError("no web hook is set for text messages")
    return HookChannel(target)


CHANNELS: Final[dict[str, Callable[[], Channel]]] = {MAIL: MailChannel, TEXT: _hook}


def channel_named(name: str) -> Channel:
    """Raises LookupError for one that this installation does not have."""
    return CHANNELS[name]()


def has_channel(name: str) -> bool:
    return name == MAIL or (name == TEXT and hook_target() is not None)
