"""Australia: Australian Consumer Law s.102 and Competition and Consumer Regulations 2010 (CCR) reg. 90."""

from typing import Final

from shopwarranty.warranty.certificate_text import CertificateText, ExpenseBearer
from shopwarranty.warranty.legal.common import (
    dates_agree,
    has_required,
    named_and_addressed,
    remedies_said,
    steps_at_least,
)
from shopwarranty.warranty.legal.items import Item, Verdict, asked, missing, require
from shopwarranty.warranty.legal.profile import LegalProfile
from shopwarranty.warranty.sentence import gettext_noop, say


def _transparent(text: CertificateText, profile: LegalProfile) -> Verdict:
    return asked(
        text,
        "AU-01",
        say(gettext_noop("Only a person can tell whether the document is plain, legible and clear.")),
        say(gettext_noop("Look at a printed certificate, and confirm.")),
    )


def _warrantor_does(text: CertificateText, profile: LegalProfile) -> Verdict:
    return require(
        remedies_said(text),
        say(gettext_noop("What the warrantor must do is not said.")),
        say(gettext_noop("Say for each cover line what is done.")),
    )


def _consumer_does(text: CertificateText, profile: LegalProfile) -> Verdict:
    return steps_at_least(text, 1)


def _mandatory_text(text: CertificateText, profile: LegalProfile) -> Verdict:
    if text.supply is None:
        return missing(
            say(
                gettext_noop("The mandatory text cannot be chosen: goods, services or both is not recorded.")
            ),
            say(gettext_noop("Film fitted by the shop is goods and services.")),
        )
    return has_required(text, profile, "AU-04")


def _contact(text: CertificateText, profile: LegalProfile) -> Verdict:
    who = named_and_addressed(text, profile)
    if who.state != "met":
        return who
    return require(
        all(warrantor.telephone.strip() for warrantor in text.warrantors),
        say(gettext_noop("A warrantor's telephone number is missing.")),
        say(gettext_noop("Add it in the shop's settings or at the film product.")),
    )


def _periods(text: CertificateText, profile: LegalProfile) -> Verdict:
    return require(
        dates_agree(text),
        say(gettext_noop("The period in which a defect must appear is missing or does not fit its dates.")),
        say(gettext_noop("Give each cover line a term.")),
    )


def _claim_address(text: CertificateText, profile: LegalProfile) -> Verdict:
    return require(
        bool(text.claim_address.strip()),
        say(gettext_noop("The address to send a claim to is missing.")),
        say(gettext_noop("Add the claim address.")),
    )


def _expense(text: CertificateText, profile: LegalProfile) -> Verdict:
    if text.claim_expense is None:
        return missing(
            say(gettext_noop("Who bears the expense of claiming is not said.")),
            say(gettext_noop("Choose the shop or the holder.")),
        )
    if text.claim_expense is ExpenseBearer.WARRANTOR and not text.claim_expense_words.strip():
        return missing(
            say(gettext_noop("How the holder gets the expense of claiming back is not said.")),
            say(gettext_noop("Say, for example, where to send the receipts.")),
        )
    return has_required(text, profile, "AU-08")


def _in_addition(text: CertificateText, profile: LegalProfile) -> Verdict:
    return has_required(text, profile, "AU-09")


def _supply_chosen(text: CertificateText, profile: LegalProfile) -> Verdict:
    return require(
        text.supply is not None,
        say(gettext_noop("Whether goods, services or both are supplied is not recorded.")),
        say(gettext_noop("Film fitted by the shop is goods and services.")),
    )


def _contact_words(text: CertificateText) -> tuple[str, ...]:
    return tuple(part for w in text.warrantors for part in (w.name, w.address, w.telephone, w.email) if part)


AU_ITEMS: Final = (
    Item("AU-01", "CCR 2010 reg. 90", say(gettext_noop("Transparent document")), _transparent,
         consumer_only=False),
    Item("AU-02", "CCR 2010 reg. 90", say(gettext_noop("What the warrantor must do")), _warrantor_does,
         lambda text: tuple(line.remedy for line in text.lines), consumer_only=False),
    Item("AU-03", "CCR 2010 reg. 90", say(gettext_noop("What the consumer must do")), _consumer_does,
         lambda text: text.claim_steps, consumer_only=False),
    Item("AU-04", "CCR 2010 reg. 90", say(gettext_noop("Mandatory text")), _mandatory_text,
         consumer_only=False),
    Item("AU-05", "CCR 2010 reg. 90", say(gettext_noop("Warrantor's contact block")), _contact,
         _contact_words, consumer_only=False),
    Item("AU-06", "CCR 2010 reg. 90", say(gettext_noop("Period in which a defect must appear")), _periods,
         consumer_only=False),
    Item("AU-07", "CCR 2010 reg. 90", say(gettext_noop("Address for claims")), _claim_address,
         lambda text: (text.claim_address,), consumer_only=False),
    Item("AU-08", "CCR 2010 reg. 90", say(gettext_noop("Who bears the expense of claiming")), _expense,
         lambda text: (text.claim_expense_words,) if text.claim_expense_words else (), consumer_only=False),
    Item("AU-09", "CCR 2010 reg. 90", say(gettext_noop("In addition to other rights")), _in_addition,
         consumer_only=False),
    Item("AU-10", "CCR 2010 reg. 90 (inference)", say(gettext_noop("Goods, services or both")),
         _supply_chosen, consumer_only=False),
)  # fmt: skip
