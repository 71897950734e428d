"""European Union: Dir. (EU) 2019/771 Art. 17. Member states set the language and more."""

from datetime import date
from typing import Final

from shopwarranty.warranty.certificate_text import CertificateText
from shopwarranty.warranty.legal.common import (
    dates_agree,
    given_by_handover,
    goods_named,
    has_required,
    named_and_addressed,
    remedies_said,
    steps_at_least,
    term_not_shorter_than_quoted,
)
from shopwarranty.warranty.legal.items import (
    Item,
    Verdict,
    asked,
    human,
    met,
    missing,
    not_needed,
    require,
    warn,
)
from shopwarranty.warranty.legal.profile import LegalProfile
from shopwarranty.warranty.legal_texts import EU_RIGHTS
from shopwarranty.warranty.sentence import gettext_noop, say

NOTICE_FROM: Final = date(2026, 9, 27)
"""Day from which the harmonised notice on the legal guarantee is due before contract (Dir. (EU) 2024/825)."""


def _rights_by_law(text: CertificateText, profile: LegalProfile) -> Verdict:
    """All four ideas: by law, from the seller, free, not affected. Other languages need a person."""
    if text.language.lower().split("-")[0] in EU_RIGHTS:
        return has_required(text, profile, "EU-01")
    if not any(map(str.strip, text.rights)):
        return missing(
            say(gettext_noop("The statement of rights under law is missing in this language.")),
            say(gettext_noop("Add it: by law, from the seller, free of charge, not affected.")),
        )
    return asked(
        text,
        "EU-01",
        say(gettext_noop("The statement of rights under law is the shop's own in this language.")),
        say(gettext_noop("Confirm that it says: by law, from the seller, free of charge, not affected.")),
    )


def _guarantor(text: CertificateText, profile: LegalProfile) -> Verdict:
    return named_and_addressed(text, profile)


def _procedure(text: CertificateText, profile: LegalProfile) -> Verdict:
    return steps_at_least(text, 1)


def _goods(text: CertificateText, profile: LegalProfile) -> Verdict:
    return require(
        goods_named(text),
        say(gettext_noop("No covered film product or panel is named.")),
        say(gettext_noop("Finish at least one panel with its film.")),
    )


def _terms(text: CertificateText, profile: LegalProfile) -> Verdict:
    return require(
        dates_agree(text) and remedies_said(text) and bool(text.territory.strip()),
        say(gettext_noop("Duration, remedies or the territory of the guarantee are missing.")),
        say(gettext_noop("Complete the cover lines and name the countries the guarantee holds in.")),
    )


def _plain(text: CertificateText, profile: LegalProfile) -> Verdict:
    return asked(
        text,
        "EU-06",
        say(gettext_noop("Only a person can tell whether the language is plain.")),
        say(gettext_noop("Have somebody outside the trade read it, and confirm.")),
    )


def _durable(text: CertificateText, profile: LegalProfile) -> Verdict:
    return given_by_handover(text, "EU-07")


def _language(text: CertificateText, profile: LegalProfile) -> Verdict:
    if not profile.languages:
        return human(
            say(gettext_noop("The member state is not recorded, so its language is not known.")),
            say(gettext_noop("Set the country in the shop's settings.")),
        )
    if text.language.lower().split("-")[0] in profile.languages:
        return met()
    return warn(
        say(gettext_noop("The certificate is not in a language of the member state.")),
        say(gettext_noop("Issue it in one of: %(languages)s."), languages=", ".join(profile.languages)),
    )


def _notice(text: CertificateText, profile: LegalProfile) -> Verdict:
    if text.issued_on is not None and text.issued_on < NOTICE_FROM:
        return not_needed()
    return asked(
        text,
        "EU-P8",
        say(gettext_noop("Whether the harmonised notice on the legal guarantee was shown is not recorded.")),
        say(gettext_noop("Show it before the contract, and confirm.")),
    )


EU_ITEMS: Final = (
    Item("EU-01", "Dir. (EU) 2019/771 Art. 17(2)(a)", say(gettext_noop("Rights by law, not affected")),
         _rights_by_law),
    Item("EU-02", "Dir. (EU) 2019/771 Art. 17(2)(b)", say(gettext_noop("Guarantor's name and address")),
         _guarantor, lambda text: tuple(part for w in text.warrantors for part in (w.name, w.address))),
    Item("EU-03", "Dir. (EU) 2019/771 Art. 17(2)(c)", say(gettext_noop("Procedure to follow")), _procedure,
         lambda text: text.claim_steps),
    Item("EU-04", "Dir. (EU) 2019/771 Art. 17(2)(d)", say(gettext_noop("Goods covered")), _goods,
         lambda text: (*text.products, *text.panels)),
    Item("EU-05", "Dir. (EU) 2019/771 Art. 17(2)(e)", say(gettext_noop("Terms of the guarantee")), _terms,
         lambda text: (*(line.remedy for line in text.lines), text.territory)),
    Item("EU-06", "Dir. (EU) 2019/771 Art. 17(2)", say(gettext_noop("Plain and intelligible language")),
         _plain),
    Item("EU-07", "Dir. (EU) 2019/771 Art. 17(2), 2(11)", say(gettext_noop("Durable medium, by delivery")),
         _durable),
    Item("EU-08", "Dir. (EU) 2019/771 Art. 17(4)", say(gettext_noop("Language of the member state")),
         _language),
    Item("EU-09", "Dir. (EU) 2019/771 Art. 17(1)", say(gettext_noop("No shorter than advertised")),
         term_not_shorter_than_quoted),
    Item("EU-P8", "Dir. (EU) 2024/825; Reg. (EU) 2025/1960", say(gettext_noop("Notice before the contract")),
         _notice),
)  # fmt: skip
