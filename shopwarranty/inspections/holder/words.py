"""Refusals and spans of days as a holder reads them."""

from datetime import date, timedelta
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from shopwarranty.inspections.wall_clock import WallTimeProblem

from ..actions import refusals

WORDS: Final[dict[type[Exception], Promise]] = {
    refusals.CheckSettled: _("This check needs no time any more."),
    refusals.AlreadyBooked: _(
        "This check has a time already. Look at it below, and change it if it does not suit."
    ),
    refusals.SlotTaken: _("Somebody has just taken that time. Choose another."),
    refusals.SlotNotOffered: _("That time cannot be booked any more. Choose another, or call us."),
    refusals.SlotPast: _("That time is over. Choose one that is still to come."),
    refusals.BookingOver: _(
        "This appointment has begun, or was changed in the meantime. Call us if something is wrong."
    ),
}


def refusal_words(refusal: Exception) -> str:
    if isinstance(refusal, WallTimeProblem):
        return refusal.sentence.render(gettext)
    return str(WORDS.get(type(refusal), _("This is not possible just now. Call us, and we find a way.")))


SINCE: Final[tuple[tuple[str, Promise, int | None, int | None], ...]] = (
    ("today", _("today or yesterday"), 1, 0),
    ("week", _("some days, up to a week"), 7, 2),
    ("month", _("more than a week, up to a month"), 31, 8),
    ("longer", _("longer than a month"), None, 32),
    ("unknown", _("I cannot say"), None, None),
)
"""What may be picked: key, words, and between how many days ago it began (earliest, latest)."""


def span_of(key: str, sent_on: date) -> tuple[date | None, date | None]:
    """The earliest and the latest day it can have begun; None where nothing is said of it."""
    earliest, latest = next((first, last) for name, _words, first, last in SINCE if name == key)
    return _ago(sent_on, earliest), _ago(sent_on, latest)


def _ago(on: date, days: int | None) -> date | None:
    return None if days is None else on - timedelta(days=days)
