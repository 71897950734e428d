"""Every item of the legal checklists: a text that satisfies it, one that violates it, the exact result.

Sources are named at each item (16 CFR 700-703, 15 USC 2301-2312, Dir. (EU) 2019/771 Art. 17, Consumer Rights
Act 2015 s.30, CCR 2010 reg. 90); required wording stands in fixtures/reference/required_statements.json.
"""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from shopwarranty.warranty.certificate_text import (
    CertificateText,
    DisputeProcedure,
    ExpenseBearer,
    Registration,
    TransferPolicy,
    Warrantor,
)
from shopwarranty.warranty.cover import Term
from shopwarranty.warranty.disclosures import (
    Disclosure,
    Effect,
    State,
    check_certificate,
    items_of,
    profile_of,
)
from shopwarranty.warranty.legal_texts import STATE_RIGHTS_STATEMENT
from tests.warranty.sample_texts import HANDOVER, LINES, SHOP, satisfying

PROFILES = ("us", "eu-ie", "eu-de", "uk", "au", "other")
FULL = {"title": "FULL 5-YEAR WARRANTY", "lines": LINES[:1], "quoted_term": Term(years=5)}
CASUAL = DisputeProcedure(
    "A mediator can be asked.", "Mediation Office", "1 Calm Street, Example City", "", False
)
MISSING, FORBIDDEN, WARN, HUMAN = State.MISSING, State.FORBIDDEN, State.WARN, State.HUMAN
BLOCKS, ASKS, TELLS = Effect.BLOCKS, Effect.ASKS, Effect.TELLS


def result(code: str, text: CertificateText, identifier: str) -> Disclosure:
    return next(d for d in check_certificate(profile_of(code), text) if d.identifier == identifier)


def said(sentence: str) -> dict[str, Any]:
    return {"duties": (sentence,)}


@pytest.mark.parametrize("code", PROFILES)
def test_a_certificate_that_says_everything_meets_every_item(code: str) -> None:
    left = [d for d in check_certificate(profile_of(code), satisfying(code)) if d.state is not State.MET]
    expected = {"0.3", "0.8", "CHECK-OFFER"} if code == "eu-de" else set()
    assert {d.identifier for d in left} == expected
    assert all(d.state is HUMAN and "English only" in str(d.message) for d in left)


VIOLATIONS: list[tuple[str, str, dict[str, Any], State, Effect]] = [
    ("us", "0.1", {"profile_version": ""}, MISSING, BLOCKS),
    ("us", "0.1", {"profile_version": "1999-01"}, MISSING, BLOCKS),
    ("us", "0.2", {"warrantors": (SHOP,)}, MISSING, BLOCKS),
    ("us", "0.2", {"lines": (LINES[0], replace(LINES[1], makers_terms=""))}, WARN, ASKS),
    ("other", "0.2", {"warrantors": ()}, MISSING, BLOCKS),
    ("other", "0.2", {"warrantors": (SHOP, Warrantor("Alder Films"))}, MISSING, BLOCKS),
    ("us", "0.3", said("See our website for exclusions."), WARN, ASKS),
    ("us", "0.4", {"sent_at": None}, HUMAN, TELLS),
    ("us", "0.4", {"sent_at": HANDOVER + timedelta(minutes=1)}, WARN, ASKS),
    ("us", "0.5", {"terms_shown_at": None}, HUMAN, TELLS),
    ("us", "0.5", {"terms_shown_at": HANDOVER + timedelta(days=1)}, WARN, ASKS),
    ("us", "0.6", {"quoted_term": None}, HUMAN, TELLS),
    ("us", "0.6", {"quoted_term": Term(years=10, days=1)}, WARN, ASKS),
    ("us", "0.8", said("After that day you have no further rights."), FORBIDDEN, ASKS),
    ("us", "CHECK-OFFER", said("Void if the two-week check is missed."), WARN, ASKS),
    ("uk", "CHECK-OFFER", {"check_is_condition": True}, WARN, ASKS),
    ("us", "CHECK-OFFER", {**FULL, "check_is_condition": True}, FORBIDDEN, BLOCKS),
    ("us", "US-00", {"title": "Film warranty"}, MISSING, BLOCKS),
    ("us", "US-00", {"title": "LIFETIME WARRANTY"}, MISSING, BLOCKS),
    ("us", "US-00", {"title": "FULL WARRANTY"}, MISSING, BLOCKS),
    ("us", "US-00", {"title": "FULL 0-YEAR WARRANTY"}, MISSING, BLOCKS),
    ("us", "US-00", {"title": "FULL 5-YEAR WARRANTY"}, MISSING, BLOCKS),
    ("us", "US-01", {"transfer_policy": None}, MISSING, BLOCKS),
    ("us", "US-01", {"transfer_words": " "}, MISSING, BLOCKS),
    ("us", "US-02", {"panels": ()}, MISSING, BLOCKS),
    ("us", "US-02", {"products": ("",)}, MISSING, BLOCKS),
    ("us", "US-02", {"exclusions": None}, MISSING, BLOCKS),
    ("us", "US-03", {"paid": ""}, MISSING, BLOCKS),
    ("us", "US-03", {"not_paid": ""}, MISSING, BLOCKS),
    ("us", "US-03", {"lines": (replace(LINES[0], remedy=""),)}, MISSING, BLOCKS),
    ("us", "US-04", {"start_event": None}, MISSING, BLOCKS),
    ("us", "US-04", {"lines": (replace(LINES[0], last_day=None),)}, MISSING, BLOCKS),
    ("us", "US-04", {"lines": (replace(LINES[0], last_day=date(2031, 11, 10)),)}, MISSING, BLOCKS),
    ("us", "US-04", {"lines": (replace(LINES[0], term=None),)}, MISSING, BLOCKS),
    ("us", "US-05", {"claim_steps": ("Call 555-0100.",)}, MISSING, BLOCKS),
    ("us", "US-05", {"who_performs": ""}, MISSING, BLOCKS),
    ("us", "US-05", {"lines": LINES[:1], "warrantors": (replace(SHOP, address=""),)}, MISSING, BLOCKS),
    ("us", "US-06", {"dispute": replace(CASUAL, name="")}, MISSING, BLOCKS),
    ("us", "US-06", {"dispute": replace(CASUAL, address="")}, MISSING, BLOCKS),
    ("us", "US-06", {"dispute": replace(CASUAL, must_come_first=None)}, MISSING, BLOCKS),
    ("us", "US-06", {"dispute": replace(CASUAL, must_come_first=True)}, FORBIDDEN, ASKS),
    ("us", "US-07", {"limits_implied": True}, MISSING, BLOCKS),
    ("us", "US-08", {"excludes_consequential": True}, MISSING, BLOCKS),
    ("us", "US-10", {"registration": None}, MISSING, BLOCKS),
    ("us", "US-T3", {**FULL, "pro_rated": True}, FORBIDDEN, BLOCKS),
    ("us", "US-T4", {**FULL, "transfer_policy": TransferPolicy.NONE}, FORBIDDEN, BLOCKS),
    ("us", "US-T4", {**FULL, "transfer_policy": TransferPolicy.ONCE}, FORBIDDEN, BLOCKS),
    ("us", "US-N1", said("We disclaim all implied warranties."), FORBIDDEN, ASKS),
    ("us", "US-N1", {**FULL, "limits_implied": True, "limits_implied_words": "Limited."}, FORBIDDEN, BLOCKS),
    ("us", "US-N2", said("Void unless washed with Brightfoam soap."), FORBIDDEN, ASKS),
    ("us", "US-N2", said("Void unless the annual check is paid for at our shop."), FORBIDDEN, ASKS),
    ("us", "US-N2", {"brands": ("alder",), **said("Only valid if alder care is used.")}, FORBIDDEN, ASKS),
    ("us", "US-N3", said("The film must be cleaned with approved products."), WARN, ASKS),
    ("us", "US-N4", said("Void if washed with a pressure washer."), WARN, ASKS),
    ("us", "US-N5", {"registration": Registration.IS}, WARN, ASKS),
    ("us", "US-N5", {**FULL, "registration": Registration.IS}, FORBIDDEN, BLOCKS),
    ("us", "US-N5", said("Void unless the registration card is returned."), WARN, ASKS),
    ("us", "US-N5", {**FULL, **said("Void unless the registration card is returned.")}, FORBIDDEN, ASKS),
    ("us", "US-N6", said("Our decision is final."), FORBIDDEN, ASKS),
    ("us", "US-N6", said("We alone decide what is a defect."), FORBIDDEN, ASKS),
    ("us", "US-N7", {"extra_charge": True}, FORBIDDEN, ASKS),
    ("us", "US-N7", {"extra_charge": None}, HUMAN, TELLS),
    ("us", "US-N7", said("An extended warranty is available for an extra charge."), WARN, ASKS),
    ("eu-ie", "EU-02", {"lines": LINES[:1], "warrantors": (replace(SHOP, address=""),)}, MISSING, BLOCKS),
    ("eu-ie", "EU-03", {"claim_steps": ()}, MISSING, BLOCKS),
    ("eu-ie", "EU-04", {"panels": ()}, MISSING, BLOCKS),
    ("eu-ie", "EU-05", {"territory": ""}, MISSING, BLOCKS),
    ("eu-ie", "EU-05", {"lines": (replace(LINES[0], term=None),)}, MISSING, BLOCKS),
    ("eu-ie", "EU-06", {"confirmed": frozenset()}, HUMAN, TELLS),
    ("eu-ie", "EU-07", {"sent_at": HANDOVER + timedelta(minutes=1)}, WARN, ASKS),
    ("eu-ie", "EU-07", {"handover_at": None}, HUMAN, TELLS),
    ("eu", "EU-08", {}, HUMAN, TELLS),
    ("eu-fr", "EU-08", {}, WARN, ASKS),
    ("eu-ie", "EU-09", {"quoted_term": Term(years=12)}, WARN, ASKS),
    ("eu-ie", "EU-P8", {"confirmed": frozenset()}, HUMAN, TELLS),
    ("uk", "UK-01", {"claim_steps": ()}, MISSING, BLOCKS),
    ("uk", "UK-01", {"lines": ()}, MISSING, BLOCKS),
    ("uk", "UK-03", {"language": "cy"}, MISSING, BLOCKS),
    ("uk", "UK-04", {"lines": LINES[:1], "warrantors": (replace(SHOP, address=""),)}, MISSING, BLOCKS),
    ("uk", "UK-05", {"territory": ""}, MISSING, BLOCKS),
    ("uk", "UK-05", {"lines": (replace(LINES[0], last_day=None),)}, MISSING, BLOCKS),
    ("uk", "UK-06", {"copy_asked_at": HANDOVER}, WARN, ASKS),
    ("uk", "UK-P1", {"extra_charge": True}, WARN, ASKS),
    ("uk", "UK-P1", {"extra_charge": None}, HUMAN, TELLS),
    ("au", "AU-01", {"confirmed": frozenset()}, HUMAN, TELLS),
    ("au", "AU-02", {"lines": (replace(LINES[0], remedy=""),)}, MISSING, BLOCKS),
    ("au", "AU-03", {"claim_steps": ()}, MISSING, BLOCKS),
    ("au", "AU-04", {"supply": None}, MISSING, BLOCKS),
    ("au", "AU-05", {"lines": LINES[:1], "warrantors": (replace(SHOP, telephone=""),)}, MISSING, BLOCKS),
    ("au", "AU-05", {"lines": LINES[:1], "warrantors": (replace(SHOP, address=""),)}, MISSING, BLOCKS),
    ("au", "AU-06", {"lines": (replace(LINES[0], last_day=None),)}, MISSING, BLOCKS),
    ("au", "AU-07", {"claim_address": ""}, MISSING, BLOCKS),
    ("au", "AU-08", {"claim_expense": None}, MISSING, BLOCKS),
    ("au", "AU-08", {"claim_expense_words": ""}, MISSING, BLOCKS),
    ("au", "AU-10", {"supply": None}, MISSING, BLOCKS),
]  # fmt: skip

WITHOUT_ITS_STATEMENT = [
    ("us", "US-09", {}),
    ("us", "US-07", {"limits_implied": True, "limits_implied_words": "Implied warranties last 5 years."}),
    ("us", "US-08", {"excludes_consequential": True, "excludes_consequential_words": "No hire vehicle."}),
    ("us", "US-10", {"registration": Registration.IS_NOT}),
    ("us", "US-10", {"registration": Registration.IS}),
    ("eu-ie", "EU-01", {}),
    ("eu-de", "EU-01", {}),
    ("uk", "UK-02", {}),
    ("au", "AU-04", {}),
    ("au", "AU-08", {"claim_expense": ExpenseBearer.CONSUMER}),
    ("au", "AU-09", {}),
    ("other", "0.8", {}),
]

SATISFIED_OTHERWISE = [
    ("us", "US-00", FULL),
    ("us", "US-00", {**FULL, "title": "Full (5-year) warranty"}),
    ("us", "US-00", {"title": "Limited 10-year warranty"}),
    ("us", "US-02", {"exclusions": ()}),
    ("us", "US-06", {"dispute": CASUAL}),
    ("us", "US-06", {"dispute": replace(CASUAL, must_come_first=True, meets_part_703=True)}),
    ("us", "US-06", {"dispute": replace(CASUAL, address="", free_telephone="800-555-0100")}),
    ("us", "US-07", {"limits_implied": True, "limits_implied_words": "Implied warranties last 5 years."}),
    ("us", "US-08", {"excludes_consequential": True, "excludes_consequential_words": "No hire vehicle."}),
    ("us", "US-10", {"registration": Registration.IS_NOT}),
    ("us", "US-10", {"registration": Registration.IS}),
    ("us", "US-T3", FULL),
    ("us", "US-T3", {"pro_rated": True}),
    ("us", "US-T4", FULL),
    ("us", "US-T4", {"transfer_policy": TransferPolicy.NONE}),
    ("us", "US-N2", said("Using another soap does not void this warranty.")),
    ("us", "US-N4", said("Damage caused by a pressure washer held too close is not covered.")),
    ("us", "US-N5", {"registration": Registration.IS_NOT}),
    ("us", "0.6", {"quoted_term": Term(months=120)}),
    ("us", "0.2", {"lines": LINES[:1], "warrantors": (SHOP,)}),
    ("eu-ie", "EU-P8", {"issued_on": date(2026, 9, 26), "confirmed": frozenset()}),
    ("uk", "UK-06", {"copy_asked_at": HANDOVER, "copy_given_at": HANDOVER}),
    ("au", "AU-08", {"claim_expense": ExpenseBearer.CONSUMER, "claim_expense_words": ""}),
]


@pytest.mark.parametrize(("code", "identifier", "changes", "state", "effect"), VIOLATIONS)
def test_a_text_that_violates_an_item_gets_exactly_its_state_and_effect(
    code: str, identifier: str, changes: dict[str, Any], state: State, effect: Effect
) -> None:
    found = result(code, satisfying(code, **changes), identifier)
    assert (found.state, found.effect) == (state, effect)
    assert found.source
    assert str(found.message)
    assert found.remedy is not None
    assert str(found.remedy)


@pytest.mark.parametrize(("code", "identifier", "changes"), WITHOUT_ITS_STATEMENT)
def test_a_statement_left_out_or_changed_by_one_word_blocks(
    code: str, identifier: str, changes: dict[str, Any]
) -> None:
    text = satisfying(code, **changes)
    assert result(code, text, identifier).state is State.MET
    for rights in ((), tuple(words.replace(" ", " surely ", 1) for words in text.rights)):
        found = result(code, replace(text, rights=rights), identifier)
        assert (found.state, found.effect) == (MISSING, BLOCKS)


@pytest.mark.parametrize(("code", "identifier", "changes"), SATISFIED_OTHERWISE)
def test_another_text_that_satisfies_an_item_meets_it(
    code: str, identifier: str, changes: dict[str, Any]
) -> None:
    assert result(code, satisfying(code, **changes), identifier).state is State.MET


def test_every_item_of_every_profile_has_a_violation_in_these_tables() -> None:
    tried = {identifier for _, identifier, *_ in VIOLATIONS} | {i for _, i, _ in WITHOUT_ITS_STATEMENT}
    items = {item.identifier for code in PROFILES for item in items_of(profile_of(code))}
    assert items == tried


def test_the_checklist_holds_every_numbered_item_of_its_jurisdiction() -> None:
    def numbers(code: str, prefix: str) -> list[str]:
        return [i.identifier for i in items_of(profile_of(code)) if i.identifier.startswith(prefix)]

    assert numbers("us", "US-")[:11] == [f"US-{n:02d}" for n in range(11)]
    assert numbers("us", "US-N") == [f"US-N{n}" for n in range(1, 8)]
    assert numbers("eu-de", "EU-0") == [f"EU-{n:02d}" for n in range(1, 10)]
    assert numbers("uk", "UK-0") == [f"UK-{n:02d}" for n in range(1, 7)]
    assert numbers("au", "AU-") == [f"AU-{n:02d}" for n in range(1, 11)]


def test_a_phrase_that_must_not_stand_is_quoted_back() -> None:
    found = result("us", satisfying("us", **said("Our decision is final.")), "US-N6")
    assert found.found == "decision is final"
    assert "decision is final" in str(found.message)


def test_the_statements_of_the_law_are_never_read_as_words_of_the_shop() -> None:
    text = satisfying("us", registration=Registration.IS, excludes_consequential=True,
                      excludes_consequential_words="Hire vehicles are not paid for.")  # fmt: skip
    assert STATE_RIGHTS_STATEMENT in text.rights
    assert result("us", text, "US-N1").state is State.MET
    assert result("us", text, "0.8").state is State.MET


def test_a_known_business_buyer_is_spared_the_consumer_items_and_an_unknown_one_is_not() -> None:
    """16 CFR 701.1(b); the title and the tie rule stay."""

    def identifiers(consumer: bool | None) -> set[str]:
        return {
            d.identifier for d in check_certificate(profile_of("us"), satisfying("us", consumer=consumer))
        }

    assert "US-05" not in identifiers(False)
    assert {"US-00", "US-N2", "0.2"} <= identifiers(False)
    assert identifiers(None) == identifiers(True)


def test_a_language_without_word_lists_is_left_to_a_person_who_can_confirm() -> None:
    text = satisfying("eu-de", **said("Unsere Entscheidung ist endgültig."))
    assert result("eu-de", text, "0.3").state is HUMAN
    confirmed = replace(text, confirmed=text.confirmed | {"0.3"})
    assert result("eu-de", confirmed, "0.3").state is State.MET


def test_an_eu_language_without_our_wording_needs_the_shops_own_and_a_confirmation() -> None:
    text = satisfying("eu-pl", language="pl")
    assert result("eu-pl", text, "EU-01").state is MISSING
    worded = replace(text, rights=("Przysługują Panu ustawowe uprawnienia wobec sprzedawcy.",))
    assert result("eu-pl", worded, "EU-01").state is HUMAN
    confirmed = replace(worded, confirmed=frozenset({"EU-01"}))
    assert result("eu-pl", confirmed, "EU-01").state is State.MET


def test_an_unknown_profile_is_an_error() -> None:
    with pytest.raises(ValueError, match="mars"):
        profile_of("mars")


@pytest.mark.parametrize(
    ("code", "country", "stands_for"),
    [
        ("us", "US", "us"),
        ("eu", "DE", "eu-de"),
        ("eu-at", "", "eu-at"),
        ("eu", "", "eu"),
        ("eu", "EL", "eu-gr"),
    ],
)
def test_a_profile_is_named_by_its_family_and_member_state(code: str, country: str, stands_for: str) -> None:
    assert profile_of(code, country=country).code == stands_for
    assert profile_of("eu", country="DE").languages == ("de",)
    assert profile_of("us").languages == ()
