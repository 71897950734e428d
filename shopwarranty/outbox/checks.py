"""What must be right about the settings before anything is sent by them."""

from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, register

from .channels.hook import NotAllowed, hook_target
from .signing import key_of


@register()
def hooks_are_sound(app_configs: Any, **kwargs: Any) -> list[CheckMessage]:
    """A hook without a host on the list or without a secret would fail only when a message is due."""
    found: list[CheckMessage] = []
    try:
        if hook_target() is not None:
            key_of(settings.TEXT_HOOK_SECRET)
    except NotAllowed as problem:
        found.append(Error(f"SHOPWARRANTY_TEXT_HOOK_URL: {problem}", id="outbox.E001"))
    except ValueError as problem:
        found.append(Error(f"SHOPWARRANTY_TEXT_HOOK_SECRET: {problem}", id="outbox.E002"))
    if settings.BOUNCE_SECRET:
        try:
            key_of(settings.BOUNCE_SECRET)
        except ValueError as problem:
            found.append(Error(f"SHOPWARRANTY_BOUNCE_SECRET: {problem}", id="outbox.E003"))
    return found
