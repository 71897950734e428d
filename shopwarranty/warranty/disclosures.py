"""The legal checklist of a certificate: every item with its source and result, before and after printing.

`check_certificate` reads the certificate as values; `check_printed` reads the text of the finished PDF.
What the law requires and is missing blocks, without override; what it warns about asks an owner for a reason.
A failed item never means "no warranty": it exposes the shop. This is no legal advice.
"""

from collections.abc import Callable, Iterator
from datetime import date
from typing import Final

from shopwarranty.warranty.certificate_text import CertificateText
from shopwarranty.warranty.legal import phrases
from shopwarranty.warranty.legal.au import AU_ITEMS
from shopwarranty.warranty.legal.common import COMMON_ITEMS, judged
from shopwarranty.warranty.legal.eu import EU_ITEMS
from shopwarranty.warranty.legal.items import (
    Disclosure,
    Effect,
    Item,
    State,
    Verdict,
    forbidden,
    met,
    missing,
    warn,
)
from shopwarranty.warranty.legal.profile import Family, LegalProfile, profile_of
from shopwarranty.warranty.legal.uk import UK_ITEMS
from shopwarranty.warranty.legal.us import US_ITEMS
from shopwarranty.warranty.legal_texts import (
    Placement,
    RequiredText,
    TextFlags,
    collapsed,
    flags_of,
    required_texts,
    statements_to_print,
    texts_to_confirm,
)
from shopwarranty.warranty.sentence import gettext_noop, say

__all__ = [
    "CertificateText",
    "Disclosure",
    "Effect",
    "Family",
    "LegalProfile",
    "State",
    "TextFlags",
    "check_certificate",
    "check_printed",
    "flags_of",
    "items_of",
    "profile_of",
    "required_texts",
    "statements_to_print",
    "texts_to_confirm",
]

_ITEMS: Final = {
    Family.US: US_ITEMS,
    Family.EU: EU_ITEMS,
    Family.UK: UK_ITEMS,
    Family.AU: AU_ITEMS,
    Family.OTHER: (),
}
_NEAR: Final = 400
"""How many characters may stand between a limit and the statement that belongs beside it."""

_PRINTED_LISTS: Final = {
    "0.3": (phrases.TERMS_ELSEWHERE, warn),
    "0.8": (phrases.NO_RIGHTS_LEFT, forbidden),
    "CHECK-OFFER": (phrases.CHECK_IS_CONDITION, warn),
    "US-N1": (phrases.DISCLAIMS_IMPLIED, forbidden),
    "US-N2": (phrases.TIED_TO_PURCHASE, forbidden),
    "US-N3": (phrases.LOOKS_TIED, warn),
    "US-N4": (phrases.ENDS_WITHOUT_CAUSE, warn),
    "US-N5": (phrases.REGISTRATION_OR_NOTHING, warn),
    "US-N6": (phrases.DECIDES_ALONE, forbidden),
    "US-N7": (phrases.PAID_EXTENSION, warn),
}
_REWORD: Final = say(gettext_noop("Change the words in the plan and print again."))


def items_of(profile: LegalProfile) -> tuple[Item, ...]:
    """The checklist of a profile, common items first."""
    return (*COMMON_ITEMS, *_ITEMS[profile.family])


def check_certificate(profile: LegalProfile, text: CertificateText) -> tuple[Disclosure, ...]:
    """Every item of the profile with its result, in the order of the checklist.

    Items that protect consumers are left out for a buyer known to be a business; unknown counts as consumer.
    """
    items = (item for item in items_of(profile) if text.consumer is not False or not item.consumer_only)
    return tuple(item.disclose(item.check(text, profile)) for item in items)


def check_printed(
    profile: LegalProfile,
    printed: str,
    flags: TextFlags,
    *,
    certificate: CertificateText | None = None,
    day_words: Callable[[date], str] | None = None,
) -> tuple[Disclosure, ...]:
    """What the text of the finished document shows, item by item; white space is collapsed first.

    `printed` is extracted text, pages joined by form feeds (the first is the face). With `certificate` the
    shop's own words of each item must be found as well, and with `day_words` (the printed form of a day) the
    first and last days. Items with nothing to find in print are left out.
    """
    results = []
    for item in items_of(profile):
        verdicts = list(_printed_verdicts(item, profile, printed, flags, certificate, day_words))
        if verdicts:
            worst = next((verdict for verdict in verdicts if verdict.state is not State.MET), verdicts[0])
            results.append(item.disclose(worst))
    return tuple(results)


def _printed_verdicts(
    item: Item,
    profile: LegalProfile,
    printed: str,
    flags: TextFlags,
    certificate: CertificateText | None,
    day_words: Callable[[date], str] | None,
) -> Iterator[Verdict]:
    texts = required_texts(profile, flags)
    for needed in texts:
        if needed.identifier == item.identifier:
            yield _statement_verdict(needed, printed, flags)
    if certificate is not None:
        yield from _piece_verdicts(item, printed, certificate, day_words)
    if item.identifier in _PRINTED_LISTS and flags.language.lower().startswith("en"):
        listed, judge = _PRINTED_LISTS[item.identifier]
        yield judged(listed.hit([_without(printed, texts)]), judge, _REWORD)


def _statement_verdict(needed: RequiredText, printed: str, flags: TextFlags) -> Verdict:
    """Exact words but for white space and, in a caption, capitals; on the face, beside its limit."""
    page = printed.split("\f")[0] if needed.placement in (Placement.FACE, Placement.CAPTION) else printed
    where, words = collapsed(page), collapsed(needed.words)
    if needed.placement is Placement.CAPTION:
        where, words = where.upper(), words.upper()
    if words not in where:
        return missing(
            say(gettext_noop("Not found in print, word for word: “%(words)s”"), words=needed.words),
            say(
                gettext_noop("Print the statement exactly as given, on the first page where the law says so.")
            ),
        )
    limit = {"US-07": flags.limits_implied_words, "US-08": flags.excludes_consequential_words}
    if not _beside(where, words, collapsed(limit.get(needed.identifier, ""))):
        return missing(
            say(gettext_noop("The statement does not stand beside the limit it speaks of.")),
            say(gettext_noop("Print it right after the limit.")),
        )
    return met()


def _beside(page: str, words: str, limit: str) -> bool:
    """Whether `words` follow `limit` closely; always true when no limit is worded."""
    if not limit:
        return True
    start = page.find(limit)
    return start >= 0 and words in page[start + len(limit) : start + len(limit) + len(words) + _NEAR]


def _piece_verdicts(
    item: Item, printed: str, certificate: CertificateText, day_words: Callable[[date], str] | None
) -> Iterator[Verdict]:
    pieces = item.pieces(certificate)
    if day_words is not None and item.identifier in ("US-04", "EU-05", "UK-05", "AU-06"):
        days = ((line.first_day, line.last_day) for line in certificate.lines)
        pieces = (*pieces, *(day_words(day) for pair in days for day in pair if day is not None))
    whole = collapsed(printed).casefold()
    for piece in pieces:
        if piece.strip() and collapsed(piece).casefold() in whole:
            yield met()
        else:
            yield missing(say(gettext_noop("Not found in print: “%(words)s”"), words=piece), _REWORD)


def _without(printed: str, texts: tuple[RequiredText, ...]) -> str:
    """The printed text less the statements the law itself words."""
    rest = collapsed(printed)
    for text in texts:
        rest = rest.replace(collapsed(text.words), ". ")
    return rest
