"""What a review found that somebody should hear of: facts, each with a key that tells it from all others."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from hashlib import sha256

from shopwarranty.analysis.verdicts import Phrase

from .reviewing import ShopReview


class Kind(StrEnum):
    CLAIM = "claim"
    LOT = "lot"
    DRIFT = "drift"


@dataclass(frozen=True, slots=True)
class News:
    """`subject`: factor and level of a claim, the lot, or whose work; `way`: more or fewer, for a claim.

    `since`: for work that slips, the day (ISO) from which its sum stood over the limit.
    """

    kind: str
    family: str
    part: str
    subject: tuple[str, ...]
    way: str = ""
    since: str = ""

    @property
    def fact(self) -> str:
        """Of what slips the year belongs to it: the day may move by a vehicle, but years later it is news."""
        text = "\x1f".join((self.kind, self.family, self.part, *self.subject, self.way, self.since[:4]))
        return sha256(text.encode()).hexdigest()[:32]


def news_of(found: ShopReview) -> tuple[News, ...]:
    """Claims that hold against any false claim at all (Holm), lots over their line, work that slips."""
    return (*_claims(found), *_lots(found), *_drift(found))


def _claims(found: ShopReview) -> Iterator[News]:
    for effect in found.review.headline:
        contrast = effect.contrast
        way = "more" if effect.verdict.phrase is Phrase.MORE else "fewer"
        subject = (contrast.factor, contrast.level, contrast.reference)
        yield News(Kind.CLAIM.value, found.selection.family, found.selection.part.value, subject, way)


def _lots(found: ShopReview) -> Iterator[News]:
    for level, figure in found.lots.items():
        if figure.alert:
            yield News(Kind.LOT.value, found.selection.family, found.selection.part.value, (level,))


def _drift(found: ShopReview) -> Iterator[News]:
    for drift in found.drift:
        if drift.signal is not None:
            since = drift.signal.isoformat()
            yield News(
                Kind.DRIFT.value,
                found.selection.family,
                found.selection.part.value,
                (drift.level,),
                "",
                since,
            )
