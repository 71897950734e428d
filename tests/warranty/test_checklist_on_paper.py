"""The whole legal checklist on text extracted from real PDFs: one that satisfies, one that violates it.

Identifiers: 16 CFR 701.3-701.4, 15 USC 2302-2308, Dir. (EU) 2019/771 Art. 17, CRA 2015 s.30 and CCR 2010
reg. 90, as the checklist names them. The violating paper changes or leaves out every text; each is found.
"""

import io
from dataclasses import replace
from functools import cache
from typing import Any

import pytest
from pypdf import PdfReader

from shopwarranty.shops.models import Shop
from shopwarranty.warranty.certificate_checks import text_of
from shopwarranty.warranty.certificate_pdf import render
from shopwarranty.warranty.disclosures import State, check_printed, flags_of, items_of, profile_of
from shopwarranty.warranty.models import CoverLine, Plan, PlanVersion
from shopwarranty.warranty.snapshot_parts import Snapshot
from shopwarranty.warranty.specimen import specimen
from shopwarranty.web.formats import full_date
from tests.conftest import NOW

STATED = {
    "us": {"0.2", "US-00", "US-01", "US-02", "US-03", "US-04", "US-05", "US-07", "US-08", "US-09"},
    "eu-ie": {"0.2", "EU-01", "EU-02", "EU-03", "EU-04", "EU-05"},
    "uk": {"0.2", "UK-01", "UK-02", "UK-04", "UK-05"},
    "au": {"0.2", "AU-02", "AU-03", "AU-04", "AU-05", "AU-06", "AU-07", "AU-08", "AU-09"},
    "other": {"0.2", "0.8"},
}
"""What must stand in print, by profile."""
MUST_NOT = {
    "0.3": "See our website for exclusions.",
    "0.8": "After that day you have no further rights.",
    "CHECK-OFFER": "Void if the two-week check is missed.",
    "US-N1": "We disclaim all implied warranties.",
    "US-N2": "Void unless the annual check is paid for at our shop.",
    "US-N3": "The film must be cleaned with approved products.",
    "US-N4": "Void if washed with a pressure washer.",
    "US-N5": "Void unless the registration card is returned.",
    "US-N6": "Our decision is final.",
    "US-N7": "An extended warranty is available for an extra charge.",
}
"""What must not, each with words that say it."""
COMMON = {"0.3", "0.8", "CHECK-OFFER"}
NOT_IN_PRINT = {
    "0.1": "that the profile's version is frozen is a value of the snapshot",
    "0.4": "when it was given is a moment",
    "0.5": "when the terms were shown is a moment",
    "0.6": "the quoted term is compared, not printed",
    "US-06": "a plan of this program offers no procedure for disputes",
    "US-10": "registering is offered nowhere, so nothing can look like a condition",
    "US-T3": "a rule about a full warranty's terms together",
    "US-T4": "a rule about a full warranty's terms together",
    "EU-06": "plain language is for a person to judge",
    "EU-07": "when it was sent is a moment",
    "EU-08": "the language is chosen from a list",
    "EU-09": "the advertised term is compared, not printed",
    "EU-P8": "a notice before the contract",
    "UK-03": "the language is chosen from a list",
    "UK-06": "when a copy was asked for and given are moments",
    "UK-P1": "what was paid is a value",
    "AU-01": "a clear layout is for a person to judge",
    "AU-10": "what is supplied is a value; its text is AU-04",
}
"""What no text on paper can show, and why. `test_disclosures` tries each on the certificate's values."""
PROFILES = tuple(STATED)


def good(code: str) -> Snapshot:
    """Every limit used, so that every statement is asked for."""
    shop = Shop(
        name="Kiln Lane Film", legal_name="Kiln Lane Film LLC", street="4 Kiln Lane", town="Example City",
        country=code[3:].upper(), telephone="555-0100", email="desk@kiln.example",
        units="us" if code == "us" else "metric", time_zone="UTC",
    )  # fmt: skip
    shop.legal_profile = "other" if code == "other" else code.split("-")[0]
    version = PlanVersion(
        number=1, language="en", exclusions=["Stone chips and scrapes."], paid="We pay for film and labour.",
        not_paid="A hire vehicle is not paid for.", claim_steps=["Take a photo.", "Call 555-0100."],
        transfer="free", territory="Wherever the vehicle is.", claim_expense_words="Send us the receipts.",
        limits_implied=code == "us", limits_implied_words="Implied warranties last two years.",
        excludes_consequential=code == "us", excludes_consequential_words="Loss of use is not paid for.",
    )  # fmt: skip
    version.plan = Plan(name="Our work")
    line = CoverLine(
        title="An edge lifts", years=2, remedy="We press it down again.", defect_kinds=["edge-lift"]
    )
    return specimen(version, [line], shop, NOW)


def bad(code: str) -> Snapshot:
    """Every text changed or left out, and everything said that must not be."""
    shot = good(code)
    wrong = replace(
        shot.terms, exclusions=("None.",), paid="-", not_paid="-", claim_steps=("Write.",), who_performs="",
        transfer_words="-", territory="Ruritania", claim_expense_words="", aftercare=(),
        duties=tuple(MUST_NOT.values()), limits_implied_words="-", excludes_consequential_words="-",
    )  # fmt: skip
    return replace(
        shot,
        terms=wrong,
        legal=replace(shot.legal, title="Promise", statements=()),
        shop=replace(
            shot.shop, legal_name="Another", street="9 Nowhere Road", town="Elsewhere", telephone="555-0199"
        ),
        warrantors=(),
        films=(),
        panels=(),
        promises=tuple(
            replace(
                each, remedy="-", term="P9Y", last_day=each.first_day, title="Anything", warrantor="Somebody"
            )
            for each in shot.promises
        ),
    )


@cache
def printed(code: str, satisfying: bool) -> str:
    content = render(good(code) if satisfying else bad(code))
    return "\f".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages)


def results(code: str, *, satisfying: bool) -> dict[str, Any]:
    """What is found in print of the text that should stand there."""
    text = text_of(good(code))
    found = check_printed(
        profile_of(code),
        printed(code, satisfying),
        flags_of(text),
        certificate=text,
        day_words=lambda day: full_date(day, good(code).shop),
    )
    return {item.identifier: item for item in found}


@pytest.mark.parametrize("code", PROFILES)
def test_a_paper_that_satisfies_shows_every_item_in_print(code: str) -> None:
    found = results(code, satisfying=True)
    assert {key: str(item.message) for key, item in found.items() if item.state is not State.MET} == {}
    assert STATED[code] <= set(found)


@pytest.mark.parametrize(
    ("code", "identifier"),
    [(code, identifier) for code, listed in STATED.items() for identifier in sorted(listed)],
)
def test_what_the_law_requires_and_print_lacks_blocks(code: str, identifier: str) -> None:
    item = results(code, satisfying=False)[identifier]
    assert (item.state, item.blocks) == (State.MISSING, True), str(item.message)


@pytest.mark.parametrize(
    ("code", "identifier"),
    [
        (code, each)
        for code in PROFILES
        for each in sorted(MUST_NOT)
        if code == "us" or each in COMMON - {"0.8"}
    ],
)
def test_what_must_not_be_said_and_stands_in_print_is_quoted_and_asks_an_owner(
    code: str, identifier: str
) -> None:
    item = results(code, satisfying=False)[identifier]
    assert item.asks_reason, str(item.message)
    assert not item.blocks
    assert item.found.lower() in MUST_NOT[identifier].lower()


@pytest.mark.parametrize("code", PROFILES)
def test_every_item_of_the_checklist_is_looked_for_in_print_or_has_a_reason(code: str) -> None:
    identifiers = {item.identifier for item in items_of(profile_of(code))}
    on_paper = set(results(code, satisfying=False))
    assert identifiers - on_paper == identifiers & set(NOT_IN_PRINT)
    assert on_paper <= STATED[code] | set(MUST_NOT)


def test_no_reason_is_left_over() -> None:
    identifiers = {item.identifier for code in PROFILES for item in items_of(profile_of(code))}
    assert set(NOT_IN_PRINT) <= identifiers
    assert len(identifiers) == 55
