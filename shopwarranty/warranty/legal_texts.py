"""Texts the tool itself puts on a certificate, word for word where a law says so.

Each text carries where it was read. What was not read at the source must be confirmed by the shop (who, when,
where) before its first certificate. Legal wording is no advice: have it checked where the shop trades.
"""

import re
import unicodedata
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from shopwarranty.warranty.certificate_text import (
    CertificateText,
    ExpenseBearer,
    Registration,
    Supply,
    TransferPolicy,
)
from shopwarranty.warranty.cover import Term
from shopwarranty.warranty.legal.profile import PROFILE_VERSION, Family, LegalProfile
from shopwarranty.warranty.sentence import gettext_noop, say


class Reading(StrEnum):
    """Where the rule or the wording was read."""

    AT_SOURCE = "at_source"
    SECONDARY = "secondary"
    NONE_NEEDED = "none_needed"


class Placement(StrEnum):
    """CAPTION: the heading; FACE: first page, beside the limit it speaks of; ANYWHERE: in the document."""

    CAPTION = "caption"
    FACE = "face"
    ANYWHERE = "anywhere"


@dataclass(frozen=True, slots=True)
class RequiredText:
    """A text to print: the item it serves, its legal source, the words, and whether the law fixes them."""

    identifier: str
    source: str
    words: str
    verbatim: bool
    reading: Reading
    placement: Placement = Placement.ANYWHERE
    version: str = PROFILE_VERSION
    language: str = ""

    @property
    def confirmed_as(self) -> str:
        """What a confirmation is kept under: words in another language are other words."""
        return f"{self.identifier} {self.language}".strip()

    @property
    def to_be_confirmed(self) -> bool:
        return self.reading is Reading.SECONDARY


@dataclass(frozen=True, slots=True)
class TextFlags:
    """What decides which texts are printed. `full_term` is the stated duration of a full warranty."""

    language: str = "en"
    full_term: Term | None = None
    limits_implied: bool = False
    limits_implied_words: str = ""
    excludes_consequential: bool = False
    excludes_consequential_words: str = ""
    registration: Registration | None = Registration.NOT_OFFERED
    supply: Supply | None = None
    claim_expense: ExpenseBearer | None = None


def flags_of(text: CertificateText) -> TextFlags:
    """The flags of a certificate's text."""
    terms = {line.term for line in text.lines if line.term}
    return TextFlags(
        language=text.language,
        full_term=terms.pop() if text.is_full and len(terms) == 1 else None,
        limits_implied=text.limits_implied,
        limits_implied_words=text.limits_implied_words,
        excludes_consequential=text.excludes_consequential,
        excludes_consequential_words=text.excludes_consequential_words,
        registration=text.registration,
        supply=text.supply,
        claim_expense=text.claim_expense,
    )


IMPLIED_LIMIT_STATEMENT: Final = (
    "Some States do not allow limitations on how long an implied warranty lasts, "
    "so the above limitation may not apply to you."
)
CONSEQUENTIAL_STATEMENT: Final = (
    "Some States do not allow the exclusion or limitation of incidental or consequential damages, "
    "so the above limitation or exclusion may not apply to you."
)
STATE_RIGHTS_STATEMENT: Final = (
    "This warranty gives you specific legal rights, and you may also have other rights which vary "
    "from State to State."
)
REGISTRATION_IS_NOT: Final = (
    "Registering is not a condition of this warranty. Not registering changes none of your rights "
    "when the date can be shown in another way."
)
REGISTRATION_IS: Final = (
    "Registering as described here is a condition of this warranty: without it there is no cover."
)

EU_RIGHTS: Final = {
    "en": "By law you are entitled to remedies from the seller, free of charge, if the goods do not "
    "conform with the contract. This guarantee does not affect those rights.",
    "de": "Bei Mängeln stehen Ihnen gegenüber dem Verkäufer kraft Gesetzes unentgeltlich Rechte zu. "
    "Diese Rechte werden durch diese Garantie nicht eingeschränkt.",
    "fr": "En cas de défaut de conformité, la loi vous donne droit, sans frais, à des recours contre le "
    "vendeur. La présente garantie n'affecte pas ces droits.",
    "es": "Si los bienes no son conformes con el contrato, la ley le da derecho a medidas correctoras por "
    "parte del vendedor, sin coste alguno. Esta garantía no afecta a esos derechos.",
    "it": "In caso di difetto di conformità la legge Le riconosce rimedi nei confronti del venditore, "
    "senza spese. La presente garanzia lascia impregiudicati tali diritti.",
    "nl": "Als de goederen niet aan de overeenkomst beantwoorden, hebt u wettelijk recht op kosteloze "
    "remedies van de verkoper. Deze garantie doet geen afbreuk aan die rechten.",
}
UK_RIGHTS: Final = (
    "You have statutory rights in relation to the goods. This guarantee does not affect those rights."
)

AU_GOODS: Final = (
    "Our goods come with guarantees that cannot be excluded under the Australian Consumer Law. You are "
    "entitled to a replacement or refund for a major failure and compensation for any other reasonably "
    "foreseeable loss or damage. You are also entitled to have the goods repaired or replaced if the goods "
    "fail to be of acceptable quality and the failure does not amount to a major failure."
)
AU_SERVICES: Final = (
    "Our services come with guarantees that cannot be excluded under the Australian Consumer Law. For "
    "major failures with the service, you are entitled: (a) to cancel your service contract with us; and "
    "(b) to a refund for the unused portion, or to compensation for its reduced value. You are also "
    "entitled to be compensated for any other reasonably foreseeable loss or damage. If the failure does "
    "not amount to a major failure, you are entitled to have problems with the service rectified in a "
    "reasonable time and, if this is not done, to cancel your contract and obtain a refund for the unused "
    "portion of the contract."
)
AU_BOTH: Final = (
    "Our goods and services come with guarantees that cannot be excluded under the Australian Consumer "
    "Law. For major failures with the service, you are entitled: (a) to cancel your service contract with "
    "us; and (b) to a refund for the unused portion, or to compensation for its reduced value. You are "
    "also entitled to choose a refund or replacement for major failures with goods. If a failure with the "
    "goods or a service does not amount to a major failure, you are entitled to have the failure rectified "
    "in a reasonable time. If this is not done you are entitled to a refund for the goods and to cancel "
    "the contract for the service and obtain a refund of any unused portion. You are also entitled to be "
    "compensated for any other reasonably foreseeable loss or damage from a failure in the goods or "
    "service."
)
AU_IN_ADDITION: Final = (
    "The benefits of this warranty are in addition to other rights and remedies you have under a law in "
    "relation to the goods or services it covers."
)
AU_EXPENSE: Final = {
    ExpenseBearer.WARRANTOR: "We bear the expense of a claim under this warranty.",
    ExpenseBearer.CONSUMER: "You bear the expense of claiming under this warranty.",
}
RIGHTS_BESIDE: Final = (
    "This promise stands beside the rights you have under the law. It takes none of them away, "
    "and they may last longer."
)
TRANSFER_WORDS: Final = {
    TransferPolicy.NONE: say(
        gettext_noop("Only the holder named here is covered. The cover ends when the vehicle is sold.")
    ),
    TransferPolicy.ONCE: say(
        gettext_noop("Cover passes once to a new owner, when the shop is told of the sale.")
    ),
    TransferPolicy.FREE: say(gettext_noop("Cover goes with the vehicle: whoever owns it is covered.")),
}
"""Sentences for a plan that has none of its own."""
RELAID_WORDS: Final = {
    "original_end": say(
        gettext_noop(
            "Film laid anew under this warranty is covered until the last day of the film it replaces."
        )
    ),
    "new_term": say(
        gettext_noop(
            "Film laid anew under this warranty is covered for a full term from the day it is laid, "
            "and never for less than the film it replaces."
        )
    ),
}
_AU_BY_SUPPLY: Final = {Supply.GOODS: AU_GOODS, Supply.SERVICES: AU_SERVICES, Supply.BOTH: AU_BOTH}


def us_title(full_term: Term | None = None) -> str:
    """The only captions US law allows: "LIMITED WARRANTY" or, with its duration, "FULL 5-YEAR WARRANTY"."""
    if full_term is None:
        return "LIMITED WARRANTY"
    parts = ((full_term.years, "YEAR"), (full_term.months, "MONTH"), (full_term.days, "DAY"))
    return f"FULL {' '.join(f'{count}-{unit}' for count, unit in parts if count)} WARRANTY"


def required_texts(profile: LegalProfile, flags: TextFlags) -> tuple[RequiredText, ...]:
    """The texts the tool prints for this profile. At least one says that rights under law stand beside."""
    match profile.family:
        case Family.US:
            return _us(flags)
        case Family.EU:
            return _eu(flags)
        case Family.UK:
            return (RequiredText("UK-02", "CRA 2015 s.30(4)(b)", UK_RIGHTS, False, Reading.AT_SOURCE),)
        case Family.AU:
            return _au(flags)
    return (RequiredText("0.8", "common practice, no source", RIGHTS_BESIDE, False, Reading.NONE_NEEDED),)


def statements_to_print(profile: LegalProfile, flags: TextFlags) -> tuple[str, ...]:
    """The words for the rights block (`CertificateText.rights`): every required text but the caption."""
    texts = required_texts(profile, flags)
    return tuple(text.words for text in texts if text.placement is not Placement.CAPTION)


def texts_to_confirm(profile: LegalProfile, flags: TextFlags) -> tuple[RequiredText, ...]:
    """Texts the shop must confirm at the source before its first real certificate."""
    return tuple(text for text in required_texts(profile, flags) if text.to_be_confirmed)


def _us(flags: TextFlags) -> tuple[RequiredText, ...]:
    found = [
        RequiredText(
            "US-00", "15 USC 2303(a)", us_title(flags.full_term), True, Reading.AT_SOURCE, Placement.CAPTION
        )
    ]
    if flags.limits_implied:
        found.append(_us_statement("US-07", "16 CFR 701.3(a)(7)", IMPLIED_LIMIT_STATEMENT, Placement.FACE))
    if flags.excludes_consequential:
        found.append(_us_statement("US-08", "16 CFR 701.3(a)(8)", CONSEQUENTIAL_STATEMENT))
    found.append(_us_statement("US-09", "16 CFR 701.3(a)(9)", STATE_RIGHTS_STATEMENT))
    registering = {Registration.IS: REGISTRATION_IS, Registration.IS_NOT: REGISTRATION_IS_NOT}
    if flags.registration in registering:
        words = registering[flags.registration]
        found.append(RequiredText("US-10", "16 CFR 701.4", words, False, Reading.AT_SOURCE))
    return tuple(found)


def _us_statement(
    identifier: str, source: str, words: str, placement: Placement = Placement.ANYWHERE
) -> RequiredText:
    return RequiredText(identifier, source, words, True, Reading.SECONDARY, placement)


def _eu(flags: TextFlags) -> tuple[RequiredText, ...]:
    language = flags.language.lower().split("-")[0]
    words, source = EU_RIGHTS.get(language), "Dir. (EU) 2019/771 Art. 17(2)(a)"
    if not words:
        return ()
    return (RequiredText("EU-01", source, words, False, Reading.SECONDARY, language=language),)


def _au(flags: TextFlags) -> tuple[RequiredText, ...]:
    found = []
    if flags.supply:
        words = _AU_BY_SUPPLY[flags.supply]
        found.append(RequiredText("AU-04", "CCR 2010 reg. 90", words, True, Reading.SECONDARY))
    if flags.claim_expense:
        expense = AU_EXPENSE[flags.claim_expense]
        found.append(RequiredText("AU-08", "CCR 2010 reg. 90", expense, False, Reading.SECONDARY))
    found.append(RequiredText("AU-09", "CCR 2010 reg. 90", AU_IN_ADDITION, False, Reading.SECONDARY))
    return tuple(found)


def collapsed(text: str) -> str:
    """Text as compared: one form of each character, list letters out, white space collapsed.

    A PDF gives back ligatures, soft hyphens, no-break spaces and line ends that mean nothing here.
    """
    plain = unicodedata.normalize("NFKC", text)
    plain = re.sub("[\u00ad\u200b-\u200f\u2060\ufeff]", "", plain)
    plain = re.sub("[\u2018\u2019]", "'", plain)
    plain = re.sub(r"(?<!\w)\([a-z]\)\s", "", plain)
    return re.sub(r"\s+", " ", plain).strip()


def holds(text: str, words: str) -> bool:
    """Whether `text` contains `words` exactly, both collapsed."""
    return collapsed(words) in collapsed(text)
