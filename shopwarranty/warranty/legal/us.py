"""United States: 15 USC 2301-2312 and 16 CFR 700-703. State law adds rules that are not listed here."""

import re
from typing import Final

from shopwarranty.warranty.certificate_text import CertificateText, Registration, TransferPolicy
from shopwarranty.warranty.cover import Term
from shopwarranty.warranty.legal import phrases
from shopwarranty.warranty.legal.common import (
    dates_agree,
    goods_named,
    has_required,
    judged,
    named_and_addressed,
    own_words,
    phrase_verdict,
    remedies_said,
    steps_at_least,
)
from shopwarranty.warranty.legal.items import (
    Item,
    Verdict,
    banned,
    forbidden,
    human,
    met,
    missing,
    not_needed,
    require,
    warn,
)
from shopwarranty.warranty.legal.profile import LegalProfile
from shopwarranty.warranty.legal_texts import us_title
from shopwarranty.warranty.sentence import gettext_noop, say

_LIMITED: Final = re.compile(r"LIMITED (?:[\w-]+ )?WARRANTY")
_FULL: Final = re.compile(r"FULL \(?(\d{1,3})[- ](YEAR|MONTH|DAY)\)? WARRANTY")


def _title(text: CertificateText, profile: LegalProfile) -> Verdict:
    """Exact captions only; a full one states a duration that every line of the certificate has."""
    title = " ".join(text.title.upper().split())
    if _LIMITED.fullmatch(title):
        return met()
    full = _FULL.fullmatch(title)
    if full and text.lines and all(line.term == _term_of(full) for line in text.lines):
        return met()
    return missing(
        say(gettext_noop("The title must be “%(title)s”, or FULL with its duration."), title=us_title()),
        say(gettext_noop("Use the title the legal profile gives.")),
    )


def _term_of(full: re.Match[str]) -> Term | None:
    count = int(full[1])
    if count == 0:
        return None
    return {"YEAR": Term(years=count), "MONTH": Term(months=count), "DAY": Term(days=count)}[full[2]]


def _who_is_covered(text: CertificateText, profile: LegalProfile) -> Verdict:
    return require(
        text.transfer_policy is not None and bool(text.transfer_words.strip()),
        say(gettext_noop("It is not said whether the next owner is covered.")),
        say(gettext_noop("Choose in the plan who is covered and print it.")),
    )


def _what_is_covered(text: CertificateText, profile: LegalProfile) -> Verdict:
    if not goods_named(text):
        return missing(
            say(gettext_noop("No covered film product or panel is named.")),
            say(gettext_noop("Finish at least one panel with its film.")),
        )
    return require(
        text.exclusions is not None,
        say(gettext_noop("What is not covered is not recorded.")),
        say(gettext_noop("List the exclusions in the plan, or state that there are none.")),
    )


def _what_is_done(text: CertificateText, profile: LegalProfile) -> Verdict:
    return require(
        remedies_said(text) and bool(text.paid.strip()) and bool(text.not_paid.strip()),
        say(gettext_noop("What is done, what is paid for or what is not paid for is missing.")),
        say(gettext_noop("Complete the cover lines and the two payment texts in the plan.")),
    )


def _start_and_duration(text: CertificateText, profile: LegalProfile) -> Verdict:
    if text.start_event is None:
        return missing(
            say(gettext_noop("The event that starts the cover is not said.")),
            say(gettext_noop("Choose handover, completion or purchase.")),
        )
    return require(
        dates_agree(text),
        say(gettext_noop("First day, term and last day of a cover line are missing or do not fit.")),
        say(gettext_noop("Give each cover line a term; the tool works out the last day.")),
    )


def _procedure(text: CertificateText, profile: LegalProfile) -> Verdict:
    who = named_and_addressed(text, profile)
    if who.state != "met":
        return who
    steps = steps_at_least(text, 2)
    if steps.state != "met":
        return steps
    return require(
        bool(text.who_performs.strip()),
        say(gettext_noop("It is not said who may do the work under the warranty.")),
        say(gettext_noop("Name the shop, or the kind of firm, that does it.")),
    )


def _dispute(text: CertificateText, profile: LegalProfile) -> Verdict:
    """15 USC 2310(a)(3): only a procedure that meets part 703 may be required before going to court."""
    given = text.dispute
    if given is None:
        return not_needed()
    if not given.name.strip() or not (given.address.strip() or given.free_telephone.strip()):
        return missing(
            say(
                gettext_noop("The dispute procedure lacks its name and its address or free telephone number.")
            ),
            say(gettext_noop("Complete it, or do not offer one.")),
        )
    if given.must_come_first is None:
        return missing(
            say(gettext_noop("It is not said whether the dispute procedure must be tried first.")),
            say(gettext_noop("Say that it is a choice, or that it comes first.")),
        )
    if given.must_come_first and given.meets_part_703 is not True:
        return forbidden(
            say(gettext_noop("Only a procedure that meets 16 CFR 703 may be required first.")),
            say(gettext_noop("Make it a choice, or have it confirmed that it meets part 703.")),
        )
    return met()


def _implied_limit(text: CertificateText, profile: LegalProfile) -> Verdict:
    if not text.limits_implied:
        return not_needed()
    if not text.limits_implied_words.strip():
        return missing(
            say(gettext_noop("The limit on implied warranties is switched on but not worded.")),
            say(gettext_noop("Write the limit, or switch it off.")),
        )
    return has_required(text, profile, "US-07")


def _consequential(text: CertificateText, profile: LegalProfile) -> Verdict:
    if not text.excludes_consequential:
        return not_needed()
    if not text.excludes_consequential_words.strip():
        return missing(
            say(gettext_noop("The exclusion of consequential damages is switched on but not worded.")),
            say(gettext_noop("Write the exclusion, or switch it off.")),
        )
    return has_required(text, profile, "US-08")


def _rights(text: CertificateText, profile: LegalProfile) -> Verdict:
    return has_required(text, profile, "US-09")


def _registration(text: CertificateText, profile: LegalProfile) -> Verdict:
    if text.registration is None:
        return missing(
            say(gettext_noop("It is not recorded whether registering is a condition.")),
            say(gettext_noop("Choose that no registration is asked for, or that it is not a condition.")),
        )
    return has_required(text, profile, "US-10")


def _no_disclaimer(text: CertificateText, profile: LegalProfile) -> Verdict:
    remedy = say(gettext_noop("Take the disclaimer out. A limited warranty may limit their duration only."))
    if text.limits_implied and text.is_full:
        return banned(say(gettext_noop("A full warranty cannot limit implied warranties.")), remedy)
    return phrase_verdict(text, profile, "US-N1", phrases.DISCLAIMS_IMPLIED, forbidden, remedy)


def _no_tie(text: CertificateText, profile: LegalProfile) -> Verdict:
    remedy = say(gettext_noop("Exclude damage caused by a product or by work, whoever sold it."))
    brand = phrases.brand_tie(own_words(text, profile), text.brands) if text.is_english else ""
    if brand:
        return judged(brand, forbidden, remedy)
    return phrase_verdict(text, profile, "US-N2", phrases.TIED_TO_PURCHASE, forbidden, remedy)


def _no_implied_tie(text: CertificateText, profile: LegalProfile) -> Verdict:
    remedy = say(
        gettext_noop("Make it advice, and say that other products or firms do not end the warranty.")
    )
    return phrase_verdict(text, profile, "US-N3", phrases.LOOKS_TIED, warn, remedy)


def _only_damage_caused(text: CertificateText, profile: LegalProfile) -> Verdict:
    remedy = say(gettext_noop("Say “damage caused by ...” instead of ending the cover."))
    return phrase_verdict(text, profile, "US-N4", phrases.ENDS_WITHOUT_CAUSE, warn, remedy)


def _registration_as_duty(text: CertificateText, profile: LegalProfile) -> Verdict:
    """16 CFR 700.7(b): never in a full warranty; in a limited one some states forbid it."""
    remedy = say(gettext_noop("Ask for no registration: the shop registers at issue."))
    if text.registration is Registration.IS and text.is_full:
        return banned(say(gettext_noop("A full warranty cannot hang on registering.")), remedy)
    if text.registration is Registration.IS:
        return warn(
            say(gettext_noop("Registering is a condition of this warranty; some states forbid that.")), remedy
        )
    judge = forbidden if text.is_full else warn
    return phrase_verdict(text, profile, "US-N5", phrases.REGISTRATION_OR_NOTHING, judge, remedy)


def _nobody_decides_alone(text: CertificateText, profile: LegalProfile) -> Verdict:
    remedy = say(gettext_noop("Say how a claim is looked at and what can be done if the holder disagrees."))
    return phrase_verdict(text, profile, "US-N6", phrases.DECIDES_ALONE, forbidden, remedy)


def _no_extra_charge(text: CertificateText, profile: LegalProfile) -> Verdict:
    remedy = say(gettext_noop("Call cover that is paid for a service contract and keep it apart."))
    if text.extra_charge is None:
        return human(say(gettext_noop("Whether this cover was paid for separately is not recorded.")), remedy)
    if text.extra_charge:
        return forbidden(say(gettext_noop("Cover that is paid for separately is not a warranty.")), remedy)
    return phrase_verdict(text, profile, "US-N7", phrases.PAID_EXTENSION, warn, remedy)


def _full_minimum(text: CertificateText, profile: LegalProfile) -> Verdict:
    """15 USC 2304: no pro-rata refund, no duty beyond notice."""
    if not text.is_full or not (text.pro_rated or text.check_is_condition):
        return met()
    return banned(
        say(gettext_noop("A full warranty cannot be pro-rated or ask more of the holder than notice.")),
        say(gettext_noop("Title it LIMITED WARRANTY, or drop the restriction.")),
    )


def _full_transfer(text: CertificateText, profile: LegalProfile) -> Verdict:
    """16 CFR 700.6(b): with a stated duration a later owner has the same rights."""
    if not text.is_full or text.transfer_policy in (TransferPolicy.FREE, None):
        return met()
    return banned(
        say(gettext_noop("A full warranty of stated duration cannot leave a later owner out.")),
        say(gettext_noop("Title it LIMITED WARRANTY, or cover whoever owns the vehicle.")),
    )


def _remedy_words(text: CertificateText) -> tuple[str, ...]:
    return (*(line.remedy for line in text.lines), text.paid, text.not_paid)


def _procedure_words(text: CertificateText) -> tuple[str, ...]:
    who = tuple(part for warrantor in text.warrantors for part in (warrantor.name, warrantor.address))
    return (*who, *text.claim_steps, text.who_performs)


def _dispute_words(text: CertificateText) -> tuple[str, ...]:
    given = text.dispute
    return (given.words, given.name, given.address, given.free_telephone) if given else ()


US_ITEMS: Final = (
    Item("US-00", "15 USC 2303(a); 16 CFR 700.6(a)", say(gettext_noop("Title")), _title,
         lambda text: (text.title,), consumer_only=False),
    Item("US-01", "16 CFR 701.3(a)(1)", say(gettext_noop("Who is covered")), _who_is_covered,
         lambda text: (text.transfer_words,)),
    Item("US-02", "16 CFR 701.3(a)(2)", say(gettext_noop("What is covered and what is not")),
         _what_is_covered, lambda text: (*text.products, *text.panels, *(text.exclusions or ()))),
    Item("US-03", "16 CFR 701.3(a)(3)", say(gettext_noop("What is done, paid and not paid")), _what_is_done,
         _remedy_words),
    Item("US-04", "16 CFR 701.3(a)(4)", say(gettext_noop("Start and duration")), _start_and_duration),
    Item("US-05", "16 CFR 701.3(a)(5)", say(gettext_noop("How to claim, and from whom")),
         _procedure, _procedure_words),
    Item("US-06", "16 CFR 701.3(a)(6), 703.2(b); 15 USC 2310(a)(3)", say(gettext_noop("Dispute procedure")),
         _dispute, _dispute_words),
    Item("US-07", "16 CFR 701.3(a)(7)", say(gettext_noop("Limit on implied warranties, with its statement")),
         _implied_limit, lambda text: (text.limits_implied_words,) if text.limits_implied else ()),
    Item("US-08", "16 CFR 701.3(a)(8)", say(gettext_noop("Exclusion of damages, with its statement")),
         _consequential,
         lambda text: (text.excludes_consequential_words,) if text.excludes_consequential else ()),
    Item("US-09", "16 CFR 701.3(a)(9)", say(gettext_noop("Rights vary from State to State")), _rights),
    Item("US-10", "16 CFR 701.4", say(gettext_noop("Whether registering is a condition")), _registration),
    Item("US-T3", "15 USC 2304", say(gettext_noop("A full warranty keeps to the federal minimum")),
         _full_minimum, consumer_only=False),
    Item("US-T4", "16 CFR 700.6(b)", say(gettext_noop("A full warranty covers later owners")), _full_transfer,
         consumer_only=False),
    Item("US-N1", "15 USC 2308(a)-(c)", say(gettext_noop("No disclaimer of implied warranties")),
         _no_disclaimer, consumer_only=False),
    Item("US-N2", "15 USC 2302(c); 16 CFR 700.10(a), (c)", say(gettext_noop("No tie to product or service")),
         _no_tie, consumer_only=False),
    Item("US-N3", "16 CFR 700.10 as revised 2015", say(gettext_noop("Nothing that reads like a tie")),
         _no_implied_tie, consumer_only=False),
    Item("US-N4", "16 CFR 700.10(c)", say(gettext_noop("Only damage actually caused is excluded")),
         _only_damage_caused, consumer_only=False),
    Item("US-N5", "16 CFR 700.7(b), (c)", say(gettext_noop("Registering is no unreasonable duty")),
         _registration_as_duty, consumer_only=False),
    Item("US-N6", "16 CFR 700.8", say(gettext_noop("Nobody's decision is final")), _nobody_decides_alone,
         consumer_only=False),
    Item("US-N7", "16 CFR 700.11(a), (b); 15 USC 2306", say(gettext_noop("No separate charge")),
         _no_extra_charge, consumer_only=False),
)  # fmt: skip
