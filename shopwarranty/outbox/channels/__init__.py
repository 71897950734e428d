"""Ways a message can go: by mail, or handed to a service of the operator (text messages and others)."""

from .base import Channel, Fate, Outcome
from .registry import MAIL, TEXT, channel_named, has_channel

__all__ = ["MAIL", "TEXT", "Channel", "Fate", "Outcome", "channel_named", "has_channel"]
