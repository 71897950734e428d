"""Reading what `shopwarranty.web.notices.tell` put into a message."""

from django import template
from django.contrib.messages.storage.base import Message

from shopwarranty.web.notices import UNDO

register = template.Library()
MARKS = {"success": "done", "warning": "due", "error": "lift"}


@register.filter
def undo_url(message: Message) -> str:
    """The address that takes the act back, or nothing."""
    tags = message.extra_tags or ""
    return tags.removeprefix(UNDO) if tags.startswith(UNDO) else ""


@register.filter
def notice_mark(level: str) -> str:
    """The state mark for a message level."""
    return MARKS.get(level, "usual")
