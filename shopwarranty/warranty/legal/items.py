"""One checklist item and what a check of it says."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from shopwarranty.warranty.certificate_text import CertificateText
from shopwarranty.warranty.legal.profile import LegalProfile
from shopwarranty.warranty.sentence import Sentence, gettext_noop, say


class State(StrEnum):
    """MET; MISSING: the law requires it and it is not there; FORBIDDEN: words that must not stand there;
    WARN: risky; HUMAN: only a person can tell, and nobody has confirmed it yet."""

    MET = "met"
    MISSING = "missing"
    FORBIDDEN = "forbidden"
    WARN = "warn"
    HUMAN = "human"


class Effect(StrEnum):
    """What follows at issue: nothing; tells; asks an owner for a reason; blocks, without override."""

    NOTHING = "nothing"
    TELLS = "tells"
    ASKS = "asks"
    BLOCKS = "blocks"


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a check found; `found` is the offending phrase as written, when there is one."""

    state: State
    effect: Effect
    message: Sentence
    remedy: Sentence | None = None
    found: str = ""


@dataclass(frozen=True, slots=True)
class Disclosure:
    """One item of the checklist with its result. `source` cites the law, `about` names the item in words."""

    identifier: str
    source: str
    about: Sentence
    state: State
    effect: Effect
    message: Sentence
    remedy: Sentence | None = None
    found: str = ""

    @property
    def blocks(self) -> bool:
        return self.effect is Effect.BLOCKS

    @property
    def asks_reason(self) -> bool:
        return self.effect is Effect.ASKS


Check = Callable[[CertificateText, LegalProfile], Verdict]
Pieces = Callable[[CertificateText], tuple[str, ...]]


def no_pieces(text: CertificateText) -> tuple[str, ...]:
    """For items that have no words of the shop to be found in print."""
    return ()


@dataclass(frozen=True, slots=True)
class Item:
    """A checklist item: identifier, legal source, name, check, and the shop's own words that print must show.

    `consumer_only` items are left out for a buyer known to be a business; unknown counts as consumer.
    """

    identifier: str
    source: str
    about: Sentence
    check: Check
    pieces: Pieces = no_pieces
    consumer_only: bool = True

    def disclose(self, verdict: Verdict) -> Disclosure:
        return Disclosure(
            self.identifier,
            self.source,
            self.about,
            verdict.state,
            verdict.effect,
            verdict.message,
            verdict.remedy,
            verdict.found,
        )


_STATED: Final = say(gettext_noop("Stated."))
_NOT_NEEDED: Final = say(gettext_noop("Not needed here."))
_CONFIRMED: Final = say(gettext_noop("Looked at and confirmed."))


def met(message: Sentence = _STATED) -> Verdict:
    return Verdict(State.MET, Effect.NOTHING, message)


def not_needed() -> Verdict:
    return met(_NOT_NEEDED)


def missing(message: Sentence, remedy: Sentence) -> Verdict:
    """The law requires it: blocks, without override."""
    return Verdict(State.MISSING, Effect.BLOCKS, message, remedy)


def warn(message: Sentence, remedy: Sentence, found: str = "") -> Verdict:
    """Risky: an owner may go on with a reason."""
    return Verdict(State.WARN, Effect.ASKS, message, remedy, found)


def forbidden(message: Sentence, remedy: Sentence, found: str = "") -> Verdict:
    """Words found that must not be said. A phrase list can be wrong, so an owner may go on with a reason."""
    return Verdict(State.FORBIDDEN, Effect.ASKS, message, remedy, found)


def banned(message: Sentence, remedy: Sentence) -> Verdict:
    """A setting of the certificate that contradicts its title: no phrase list involved, no override."""
    return Verdict(State.FORBIDDEN, Effect.BLOCKS, message, remedy)


def human(message: Sentence, remedy: Sentence, found: str = "") -> Verdict:
    return Verdict(State.HUMAN, Effect.TELLS, message, remedy, found)


def asked(text: CertificateText, identifier: str, message: Sentence, remedy: Sentence) -> Verdict:
    """HUMAN until a person has confirmed the item."""
    return met(_CONFIRMED) if identifier in text.confirmed else human(message, remedy)


def require(present: bool, message: Sentence, remedy: Sentence) -> Verdict:
    """MET when `present`, else MISSING."""
    return met() if present else missing(message, remedy)
