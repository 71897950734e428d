"""Certificate texts of an invented shop, one that satisfies everything for each legal profile."""

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Final

from shopwarranty.warranty.certificate_text import (
    CertificateText,
    ExpenseBearer,
    PromiseLine,
    Registration,
    StartEvent,
    Supply,
    TransferPolicy,
    Warrantor,
)
from shopwarranty.warranty.cover import Term
from shopwarranty.warranty.legal.profile import LegalProfile, profile_of
from shopwarranty.warranty.legal_texts import flags_of, statements_to_print

HANDOVER: Final = datetime(2026, 11, 11, 20, 0, tzinfo=UTC)
SHOP: Final = Warrantor(
    "Fennel Yard Film", "14 Fennel Yard, Example City", "555-0100", "desk@fennelyard.example"
)
MAKER: Final = Warrantor("Alder Films", "3 Mill Lane, Example Town", "555-0142", "films@alder.example")
LINES: Final = (
    PromiseLine(
        "An edge lifts, film peels, film pulls back",
        SHOP.name,
        "We press it down again or lay the panel new.",
        date(2026, 11, 11),
        date(2031, 11, 11),
        Term(years=5),
    ),
    PromiseLine(
        "Film turns yellow, cracks, bubbles",
        MAKER.name,
        "New film and the work for that panel.",
        date(2026, 11, 11),
        date(2036, 11, 11),
        Term(years=10),
        by_maker=True,
        makers_terms="Alder film terms of January 5, 2026",
    ),
)
_ORDINARY: Final = CertificateText(
    title="LIMITED WARRANTY",
    profile_version=profile_of("us").version,
    issued_on=date(2026, 11, 11),
    consumer=True,
    holder="A. Example",
    vehicle="Osk Tarn, VIN ends 402118",
    transfer_policy=TransferPolicy.FREE,
    transfer_words="Cover goes with the vehicle: whoever owns it is covered.",
    products=("Alder Clear 8, lot 61-0934",),
    panels=("Bonnet", "Left front wing"),
    lines=LINES,
    exclusions=("Stone chips, scrapes, collisions, vandalism.", "Panels without film in the drawing."),
    duties=(
        "No washing for 7 days, no pressure washer for 14.",
        "Missing a check does not end this warranty.",
    ),
    paid="We pay for film, labour and taking off the old film.",
    not_paid="Transport and a hire vehicle are not paid for.",
    start_event=StartEvent.HANDOVER,
    claim_steps=("Leave it alone and take a photo.", "Call 555-0100, or come by."),
    claim_address="14 Fennel Yard, Example City",
    who_performs="Fennel Yard Film, or a shop it names, does the work.",
    warrantors=(SHOP, MAKER),
    registration=Registration.NOT_OFFERED,
    territory="United Kingdom and the European Union",
    supply=Supply.BOTH,
    claim_expense=ExpenseBearer.WARRANTOR,
    claim_expense_words="Send us the receipts and we pay them back.",
    extra_charge=False,
    quoted_term=Term(years=10),
    terms_shown_at=datetime(2026, 10, 1, 12, tzinfo=UTC),
    sent_at=HANDOVER,
    handover_at=HANDOVER,
    confirmed=frozenset({"EU-06", "EU-P8", "AU-01"}),
)


def with_rights(profile: LegalProfile, text: CertificateText) -> CertificateText:
    """The text with the statements the tool prints for its flags."""
    return replace(text, rights=statements_to_print(profile, flags_of(text)))


def satisfying(code: str, **changes: object) -> CertificateText:
    """A certificate that satisfies every item of the profile, `changes` made before the rights are added."""
    wanted = {"language": "de" if code == "eu-de" else "en", **changes}
    text = replace(_ORDINARY, **wanted)  # type: ignore[arg-type]
    return with_rights(profile_of(code), text)


def printed(text: CertificateText, title: str = "LIMITED WARRANTY") -> str:
    """The certificate as extracted from a PDF: wrapped lines, a ligature, a no-break space, two pages."""
    lines = "\n".join(
        f"{line.what} until {line.last_day} {line.warrantor}\n{line.remedy}" for line in text.lines
    )
    face = [title.title(), *text.products, *text.panels, lines, text.limits_implied_words]
    face += [words for words in text.rights if "implied warranty lasts" in words]
    face += [
        text.excludes_consequential_words,
        *(w for w in text.rights if "implied warranty lasts" not in w),
    ]
    who = [part for w in text.warrantors for part in (w.name, w.address, w.telephone, w.email)]
    rest = [*(text.exclusions or ()), *text.duties, *text.claim_steps, *who, text.claim_address, text.paid]
    rest += [text.not_paid, text.transfer_words, text.who_performs, text.territory, text.claim_expense_words]
    days = [f"{day}" for line in text.lines for day in (line.first_day, line.last_day)]
    pages = ["\n".join(part for part in page if part) for page in (face, [*rest, *days])]
    return "\f".join(wrapped(page) for page in pages)


def wrapped(page: str) -> str:
    """Line ends in odd places, as text comes out of a PDF."""
    words = page.replace("\n", " \n ").split(" ")
    broken = "\n".join(" ".join(words[n : n + 7]) for n in range(0, len(words), 7))
    return broken.replace("specific", "speci\ufb01c").replace("State to", "State\u00a0to")
