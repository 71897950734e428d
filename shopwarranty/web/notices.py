"""Notices after an act, with a way back where there is one."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest

UNDO = "undo:"


def tell(request: HttpRequest, words: Any, *, undo_url: str = "", level: int = messages.SUCCESS) -> None:
    """Say what was done. `undo_url` takes a POST and puts it back; the notice stays until the next page."""
    messages.add_message(request, level, words, extra_tags=UNDO + undo_url if undo_url else "")
