"""United Kingdom: Consumer Rights Act 2015 s.30, "Goods under guarantee"."""

from typing import Final

from shopwarranty.warranty.certificate_text import CertificateText
from shopwarranty.warranty.legal.common import (
    dates_agree,
    has_required,
    named_and_addressed,
    remedies_said,
    steps_at_least,
)
from shopwarranty.warranty.legal.items import Item, Verdict, human, met, missing, require, warn
from shopwarranty.warranty.legal.profile import LegalProfile
from shopwarranty.warranty.sentence import gettext_noop, say


def _contents(text: CertificateText, profile: LegalProfile) -> Verdict:
    if not remedies_said(text):
        return missing(
            say(gettext_noop("What the guarantee gives is not said.")),
            say(gettext_noop("Say for each cover line what is done.")),
        )
    return steps_at_least(text, 1)


def _statutory_rights(text: CertificateText, profile: LegalProfile) -> Verdict:
    return has_required(text, profile, "UK-02")


def _english(text: CertificateText, profile: LegalProfile) -> Verdict:
    return require(
        text.is_english,
        say(gettext_noop("A guarantee offered in the United Kingdom is written in English.")),
        say(gettext_noop("Issue it in English.")),
    )


def _guarantor(text: CertificateText, profile: LegalProfile) -> Verdict:
    return named_and_addressed(text, profile)


def _duration_and_territory(text: CertificateText, profile: LegalProfile) -> Verdict:
    return require(
        dates_agree(text) and bool(text.territory.strip()),
        say(gettext_noop("The duration or the territory of the guarantee is missing.")),
        say(gettext_noop("Give each cover line a term and name where the guarantee holds.")),
    )


def _in_writing(text: CertificateText, profile: LegalProfile) -> Verdict:
    if text.copy_asked_at is None or text.copy_given_at is not None:
        return met()
    return warn(
        say(gettext_noop("The holder asked for a copy in writing and no answer is recorded.")),
        say(gettext_noop("Send or print the certificate again.")),
    )


def _no_extra_charge(text: CertificateText, profile: LegalProfile) -> Verdict:
    remedy = say(gettext_noop("Keep cover that is paid for apart from this guarantee."))
    if text.extra_charge is None:
        return human(say(gettext_noop("Whether this cover was paid for separately is not recorded.")), remedy)
    if text.extra_charge:
        return warn(say(gettext_noop("Cover that is paid for is outside section 30.")), remedy)
    return met()


UK_ITEMS: Final = (
    Item("UK-01", "CRA 2015 s.30(4)(a)", say(gettext_noop("Contents and how to claim")), _contents,
         lambda text: (*(line.remedy for line in text.lines), *text.claim_steps)),
    Item("UK-02", "CRA 2015 s.30(4)(b)", say(gettext_noop("Statutory rights, not affected")),
         _statutory_rights),
    Item("UK-03", "CRA 2015 s.30(4)(c)", say(gettext_noop("Written in English")), _english),
    Item("UK-04", "CRA 2015 s.30(5)(a)", say(gettext_noop("Guarantor's name and address")), _guarantor,
         lambda text: tuple(part for w in text.warrantors for part in (w.name, w.address))),
    Item("UK-05", "CRA 2015 s.30(5)(b)", say(gettext_noop("Duration and territory")), _duration_and_territory,
         lambda text: (text.territory,)),
    Item("UK-06", "CRA 2015 s.30(6), (7)", say(gettext_noop("In writing when asked for")), _in_writing),
    Item("UK-P1", "CRA 2015 s.30(2)", say(gettext_noop("No extra charge")), _no_extra_charge),
)  # fmt: skip
