"""Checks every profile shares: who promises, what must hold together, and words no certificate should say."""

from collections.abc import Callable
from typing import Final

from shopwarranty.warranty.certificate_text import CertificateText
from shopwarranty.warranty.cover import add_term
from shopwarranty.warranty.legal import phrases
from shopwarranty.warranty.legal.items import (
    Item,
    Verdict,
    asked,
    banned,
    forbidden,
    human,
    met,
    missing,
    not_needed,
    require,
    warn,
)
from shopwarranty.warranty.legal.profile import Family, LegalProfile
from shopwarranty.warranty.legal_texts import collapsed, flags_of, holds, required_texts
from shopwarranty.warranty.sentence import Sentence, gettext_noop, say

Judge = Callable[[Sentence, Sentence, str], Verdict]

_NOT_READ: Final = say(gettext_noop("These words were not checked: the lists are for English only."))
_READ_IT: Final = say(gettext_noop("Have somebody read the text for this and confirm it."))


def phrase_verdict(
    text: CertificateText,
    profile: LegalProfile,
    identifier: str,
    listed: phrases.PhraseList,
    judge: Judge,
    remedy: Sentence,
) -> Verdict:
    """MET, or what `judge` makes of the first offending phrase; a text not in English is left to a person."""
    if not text.is_english:
        return asked(text, identifier, _NOT_READ, _READ_IT)
    return judged(listed.hit(own_words(text, profile)), judge, remedy)


def own_words(text: CertificateText, profile: LegalProfile) -> tuple[str, ...]:
    """The shop's words without the statements the tool prints itself."""
    given = {collapsed(needed.words) for needed in required_texts(profile, flags_of(text))}
    return tuple(words for words in text.shop_words if collapsed(words) not in given)


def judged(found: str, judge: Judge, remedy: Sentence) -> Verdict:
    """The verdict on a phrase found; MET for ""."""
    if not found:
        return met()
    return judge(say(gettext_noop("The text says: “%(phrase)s”."), phrase=found), remedy, found)


def has_required(text: CertificateText, profile: LegalProfile, identifier: str) -> Verdict:
    """Whether the words the tool prints for this item stand among the rights statements."""
    needed = [given for given in required_texts(profile, flags_of(text)) if given.identifier == identifier]
    if not needed:
        return not_needed()
    printed = "\n".join(text.rights)
    return require(
        all(holds(printed, given.words) for given in needed),
        say(gettext_noop("The required statement is missing or was changed.")),
        say(gettext_noop("Print the statement exactly as given.")),
    )


def named_and_addressed(text: CertificateText, profile: LegalProfile) -> Verdict:
    """Every warrantor has a name and a postal address, and every promise names one of them."""
    names = {warrantor.name.strip() for warrantor in text.warrantors} - {""}
    if not names or any(line.warrantor.strip() not in names for line in text.lines):
        return missing(
            say(gettext_noop("It is not said who stands behind each promise.")),
            say(gettext_noop("Give the legal name of the shop or the film maker for every cover line.")),
        )
    return require(
        all(warrantor.name.strip() and warrantor.address.strip() for warrantor in text.warrantors),
        say(gettext_noop("The postal address of a warrantor is missing.")),
        say(gettext_noop("Add the street address in the shop's settings or at the film product.")),
    )


def dates_agree(text: CertificateText) -> bool:
    """Each line has first day, term and last day, and they fit by calendar arithmetic."""
    return bool(text.lines) and all(
        line.first_day is not None
        and line.term is not None
        and line.last_day == add_term(line.first_day, line.term, inclusive=text.inclusive)
        for line in text.lines
    )


def steps_at_least(text: CertificateText, count: int) -> Verdict:
    return require(
        sum(1 for step in text.claim_steps if step.strip()) >= count,
        say(gettext_noop("The steps for making a claim are missing or too few.")),
        say(gettext_noop("Write in the plan, step by step, what to do when something fails.")),
    )


def remedies_said(text: CertificateText) -> bool:
    return bool(text.lines) and all(line.remedy.strip() for line in text.lines)


def goods_named(text: CertificateText) -> bool:
    return any(map(str.strip, text.products)) and any(map(str.strip, text.panels))


def term_not_shorter_than_quoted(text: CertificateText, profile: LegalProfile) -> Verdict:
    """Compares last days from the same first day, so that months and years compare rightly."""
    if text.quoted_term is None:
        return human(
            say(gettext_noop("Which term was quoted or advertised is not recorded.")),
            say(gettext_noop("Note the quoted term at the job, so that it can be compared.")),
        )
    quoted = text.quoted_term
    starts = [line.first_day for line in text.lines if line.first_day]
    ends = [line.last_day for line in text.lines if line.last_day]
    if starts and ends and max(ends) >= add_term(min(starts), quoted, inclusive=text.inclusive):
        return met()
    return warn(
        say(gettext_noop("%(term)s was quoted or advertised; this certificate gives less."), term=quoted),
        say(gettext_noop("Lengthen the cover line, or say why the shorter term was agreed before the sale.")),
    )


def given_by_handover(text: CertificateText, identifier: str) -> Verdict:
    """Sent or handed over, as a file that stays unchanged, no later than the vehicle."""
    if text.sent_at is None or text.handover_at is None:
        message = gettext_noop("When the certificate was given to the holder is not recorded.")
        return asked(
            text, identifier, say(message), say(gettext_noop("Send it, or note that it was handed over."))
        )
    if text.sent_at <= text.handover_at:
        return met()
    return warn(
        say(gettext_noop("The certificate was given after the vehicle was handed over.")),
        say(gettext_noop("Give it at handover; the promise holds all the same.")),
    )


def _frozen_version(text: CertificateText, profile: LegalProfile) -> Verdict:
    return require(
        text.profile_version == profile.version,
        say(gettext_noop("The version of the legal profile it was checked with is not named.")),
        say(gettext_noop("Issue it with the current version.")),
    )


def _maker_terms(text: CertificateText, profile: LegalProfile) -> Verdict:
    who = named_and_addressed(text, profile)
    if who.state != "met" or all(line.makers_terms.strip() for line in text.lines if line.by_maker):
        return who
    return warn(
        say(gettext_noop("A film maker's promise stands there without its own terms and their date.")),
        say(gettext_noop("Attach the maker's terms at the film product, or make the promise yours.")),
    )


def _single_document(text: CertificateText, profile: LegalProfile) -> Verdict:
    remedy = say(gettext_noop("Put all terms on the certificate itself."))
    return phrase_verdict(text, profile, "0.3", phrases.TERMS_ELSEWHERE, warn, remedy)


def _handover(text: CertificateText, profile: LegalProfile) -> Verdict:
    return given_by_handover(text, "0.4")


def _shown_before(text: CertificateText, profile: LegalProfile) -> Verdict:
    if text.terms_shown_at is None:
        message = gettext_noop("Whether the terms could be read before the sale is not recorded.")
        return asked(
            text, "0.5", say(message), say(gettext_noop("Show or send the terms with the quote and note it."))
        )
    if text.handover_at is None or text.terms_shown_at <= text.handover_at:
        return met()
    return warn(
        say(gettext_noop("The terms were first shown after handover.")),
        say(gettext_noop("Show or send them with the quote.")),
    )


def _rights_beside(text: CertificateText, profile: LegalProfile) -> Verdict:
    if not any(map(str.strip, text.rights)):
        return missing(
            say(gettext_noop("Nothing says that rights under law stand beside the promise.")),
            say(gettext_noop("Print the rights statement of the legal profile.")),
        )
    beside = has_required(text, profile, "0.8")
    if beside.state != "met":
        return beside
    remedy = say(gettext_noop("Say that the printed term ends; rights under law may go on."))
    return phrase_verdict(text, profile, "0.8", phrases.NO_RIGHTS_LEFT, forbidden, remedy)


def _check_is_an_offer(text: CertificateText, profile: LegalProfile) -> Verdict:
    remedy = say(gettext_noop("Offer the check. A missed one is recorded and ends nothing."))
    if text.check_is_condition and profile.family is Family.US and text.is_full:
        return banned(say(gettext_noop("A full warranty cannot hang on a check.")), remedy)
    if text.check_is_condition:
        return warn(say(gettext_noop("The plan makes a check a condition of cover.")), remedy)
    return phrase_verdict(text, profile, "CHECK-OFFER", phrases.CHECK_IS_CONDITION, warn, remedy)


COMMON_ITEMS: Final = (
    Item("0.1", "Dir. (EU) 2019/771 Art. 17(1); CRA 2015 s.30(3)",
         say(gettext_noop("Legal profile and its version are frozen")), _frozen_version, consumer_only=False),
    Item("0.2", "16 CFR 701.3(a)(5); CRA 2015 s.30(5)(a); Dir. (EU) 2019/771 Art. 17(2)(b); reg. 90",
         say(gettext_noop("Who promises what")), _maker_terms,
         lambda text: tuple(w.name for w in text.warrantors), consumer_only=False),
    Item("0.3", "16 CFR 701.3(a)", say(gettext_noop("All terms in one document")), _single_document,
         consumer_only=False),
    Item("0.4", "Dir. (EU) 2019/771 Art. 17(2); CRA 2015 s.30(6)",
         say(gettext_noop("Given no later than the vehicle")), _handover, consumer_only=False),
    Item("0.5", "16 CFR 702.3", say(gettext_noop("Terms could be read before the sale")), _shown_before),
    Item("0.6", "Dir. (EU) 2019/771 Art. 17(1); CRA 2015 s.30(3)",
         say(gettext_noop("No shorter than quoted or advertised")), term_not_shorter_than_quoted,
         consumer_only=False),
    Item("0.8", "all regimes", say(gettext_noop("Rights under law stand beside the promise")), _rights_beside,
         consumer_only=False),
    Item("CHECK-OFFER", "15 USC 2302(c), 2304(b)(1); else common practice, no source",
         say(gettext_noop("A check is an offer, not a condition")), _check_is_an_offer, consumer_only=False),
)  # fmt: skip
