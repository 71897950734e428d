"""What every way into a claim has in common: it is said that it is open, and its photos are kept."""

from typing import Any

from django.contrib import messages
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopwarranty.shops.access import actor_of
from shopwarranty.web.notices import tell

from . import actions
from .models import Claim
from .refusals import ClaimRefusal
from .words import refusal_words


def say_opened(request: Any, opened: Claim) -> None:
    """Acknowledged at once where somebody can be written to; pressed twice, it was already."""
    if opened.state == Claim.State.RECEIVED:
        try:
            actions.acknowledge(claim=opened, actor=actor_of(request), now=request.now)
        except ClaimRefusal:
            words = _("Claim %(number)s is open. Nobody can be written to: say how it was acknowledged.")
            tell(request, words % {"number": opened.number}, level=messages.WARNING)
            return
    words = _("Claim %(number)s is open, and the holder is told its number.")
    tell(request, words % {"number": opened.number})


def keep_photos(request: Any, claim: Claim) -> None:
    """Several at once; each that cannot be kept is named."""
    files = request.FILES.getlist("photos")
    if not files:
        return
    try:
        done = actions.add_photos(claim=claim, files=files, actor=actor_of(request), now=request.now)
    except ClaimRefusal as refusal:
        tell(request, refusal_words(refusal), level=messages.WARNING)
        return
    for words in done.refused:
        tell(request, words, level=messages.ERROR)
    if done.kept:
        words = ngettext("One photo is kept.", "%(n)s photos are kept.", done.kept)
        tell(request, words % {"n": done.kept})
