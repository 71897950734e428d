"""The stages of a claim to a film maker, and the days that its terms set."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta
from typing import Final

from shopwarranty.films.models import FilmProduct, MakerTerms

from ..models import MakerClaim

State = MakerClaim.State
OPEN: Final = (State.DRAFT, State.SENT, State.ANSWERED)
BEFORE: Final[dict[str, tuple[str, ...]]] = {
    State.SENT: (State.DRAFT,),
    State.ANSWERED: (State.SENT,),
    State.CREDITED: (State.SENT, State.ANSWERED),
    State.REFUSED: (State.SENT, State.ANSWERED),
    State.DROPPED: (State.DRAFT, State.SENT, State.ANSWERED),
}
ANSWERS: Final = (State.ANSWERED, State.CREDITED, State.REFUSED)
SOON: Final = timedelta(days=7)


def terms_for(product: FilmProduct, on: date) -> MakerTerms | None:
    """The maker's terms for the film with the latest date up to that day."""
    return MakerTerms.objects.filter(product=product, dated__lte=on).order_by("-dated", "-pk").first()


def file_by(terms: MakerTerms | None, found: Iterable[date]) -> date | None:
    """The last day to claim what was found first; None where the terms say none, or nothing was found."""
    first = min(found, default=None)
    if terms is None or terms.report_days is None or first is None:
        return None
    return first + timedelta(days=terms.report_days)


def answer_by(terms: MakerTerms | None, sent_on: date) -> date | None:
    if terms is None or terms.answer_days is None:
        return None
    return sent_on + timedelta(days=terms.answer_days)
