"""Required statements word for word, and the finished document read back from extracted text."""

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from shopwarranty.warranty import legal_texts
from shopwarranty.warranty.certificate_text import CertificateText, ExpenseBearer, Registration, Supply
from shopwarranty.warranty.cover import Term
from shopwarranty.warranty.disclosures import Disclosure, State, check_printed, profile_of
from shopwarranty.warranty.legal_texts import (
    TextFlags,
    collapsed,
    flags_of,
    holds,
    required_texts,
    texts_to_confirm,
    us_title,
)
from tests.warranty.sample_texts import LINES, printed, satisfying

REFERENCE = Path(__file__).parents[2] / "fixtures" / "reference" / "required_statements.json"
STATEMENTS = json.loads(REFERENCE.read_text(encoding="utf-8"))["statements"]
EVERYTHING = {
    "limits_implied": True,
    "limits_implied_words": "Implied warranties are limited to the duration of this written warranty.",
    "excludes_consequential": True,
    "excludes_consequential_words": "Loss of use and hire vehicles are not paid for.",
    "registration": Registration.IS_NOT,
}


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("US-07", legal_texts.IMPLIED_LIMIT_STATEMENT),
        ("US-08", legal_texts.CONSEQUENTIAL_STATEMENT),
        ("US-09", legal_texts.STATE_RIGHTS_STATEMENT),
        ("AU-04 goods", legal_texts.AU_GOODS),
        ("AU-04 services", legal_texts.AU_SERVICES),
        ("AU-04 goods_and_services", legal_texts.AU_BOTH),
    ],
)
def test_what_the_law_words_is_printed_letter_by_letter(name: str, words: str) -> None:
    """Sources: 16 CFR 701.3(a)(7)-(9); CCR 2010 reg. 90 (restated, see the file)."""
    assert words == STATEMENTS[name]["words"]


@pytest.mark.parametrize(
    ("term", "title"),
    [
        (None, "LIMITED WARRANTY"),
        (Term(years=5), "FULL 5-YEAR WARRANTY"),
        (Term(months=18), "FULL 18-MONTH WARRANTY"),
    ],
)
def test_a_us_title_is_one_of_two_captions(term: Term | None, title: str) -> None:
    """15 USC 2303(a)."""
    assert us_title(term) == title


@pytest.mark.parametrize(
    ("code", "flags", "identifiers"),
    [
        ("us", TextFlags(), ["US-00", "US-09"]),
        ("us", TextFlags(limits_implied=True), ["US-00", "US-07", "US-09"]),
        ("us", TextFlags(excludes_consequential=True), ["US-00", "US-08", "US-09"]),
        ("us", TextFlags(registration=Registration.IS), ["US-00", "US-09", "US-10"]),
        ("eu-de", TextFlags(language="de-AT"), ["EU-01"]),
        ("eu-pl", TextFlags(language="pl"), []),
        ("uk", TextFlags(), ["UK-02"]),
        ("au", TextFlags(), ["AU-09"]),
        (
            "au",
            TextFlags(supply=Supply.GOODS, claim_expense=ExpenseBearer.CONSUMER),
            ["AU-04", "AU-08", "AU-09"],
        ),
        ("other", TextFlags(), ["0.8"]),
    ],
)
def test_the_tool_prints_what_the_profile_and_the_flags_ask_for(
    code: str, flags: TextFlags, identifiers: list[str]
) -> None:
    assert [text.identifier for text in required_texts(profile_of(code), flags)] == identifiers


def test_the_second_and_third_us_statements_are_printed_only_when_the_limit_is_used() -> None:
    words = [text.words for text in required_texts(profile_of("us"), TextFlags())]
    assert legal_texts.STATE_RIGHTS_STATEMENT in words
    assert legal_texts.IMPLIED_LIMIT_STATEMENT not in words
    assert legal_texts.CONSEQUENTIAL_STATEMENT not in words


def test_the_australian_text_follows_what_is_supplied() -> None:
    for supply, name in [(s, f"AU-04 {s.value}") for s in Supply]:
        texts = required_texts(profile_of("au"), TextFlags(supply=supply))
        assert STATEMENTS[name]["words"] in [text.words for text in texts]


def test_texts_not_read_at_the_source_are_to_be_confirmed_by_the_shop() -> None:
    def identifiers(code: str, **flags: Any) -> list[str]:
        return [text.identifier for text in texts_to_confirm(profile_of(code), TextFlags(**flags))]

    assert identifiers("us", limits_implied=True, registration=Registration.IS) == ["US-07", "US-09"]
    assert identifiers("eu-de", language="de") == ["EU-01"]
    assert identifiers("uk") == []
    assert identifiers("other") == []


def test_extracted_text_is_compared_without_regard_to_line_ends_ligatures_and_list_letters() -> None:
    assert holds("speci\ufb01c\nlegal\u00a0rights", "specific legal rights")
    assert holds(
        "you are entitled: to cancel; and to a refund", "you are entitled: (a) to cancel; and (b) to a refund"
    )
    assert holds("co\u00adver", "cover")
    assert collapsed("film(s) and (x)rays") == "film(s) and (x)rays"
    assert not holds("specific legal right", "specific legal rights")


def found(code: str, text: str, expected: CertificateText, **more: Any) -> dict[str, Disclosure]:
    flags = flags_of(expected)
    return {d.identifier: d for d in check_printed(profile_of(code), text, flags, **more)}


@pytest.mark.parametrize("code", ["us", "eu-ie", "eu-de", "uk", "au", "other"])
@pytest.mark.parametrize("changes", [{}, EVERYTHING])
def test_a_finished_document_shows_every_item_in_print(code: str, changes: dict[str, Any]) -> None:
    certificate = satisfying(code, **changes)
    results = found(code, printed(certificate), certificate, certificate=certificate, day_words=str)
    assert {d.identifier: str(d.message) for d in results.values() if d.state is not State.MET} == {}


@pytest.mark.parametrize("identifier", ["US-00", "US-07", "US-08", "US-09", "US-10"])
def test_a_us_statement_missing_from_print_or_changed_by_one_word_blocks(identifier: str) -> None:
    """16 CFR 701.3(a)(7)-(9), 701.4 and 15 USC 2303(a), on text as it comes out of a PDF."""
    certificate = satisfying("us", **EVERYTHING)
    whole = collapsed(printed(certificate)).replace("Limited Warranty", "LIMITED WARRANTY")
    needed = {text.identifier: text.words for text in required_texts(profile_of("us"), flags_of(certificate))}
    words = needed[identifier]
    assert words in whole
    for changed in (whole.replace(words, ""), whole.replace(words, words.replace(" ", " perhaps ", 1))):
        results = found("us", changed, certificate)
        assert results[identifier].blocks
        assert [i for i, d in results.items() if d.blocks] == [identifier]


def test_the_implied_limit_and_its_statement_stand_on_the_face_and_side_by_side() -> None:
    """16 CFR 701.3(a)(7)."""
    certificate = satisfying("us", **EVERYTHING)
    limit, statement = certificate.limits_implied_words, legal_texts.IMPLIED_LIMIT_STATEMENT
    others = " ".join(words for words in certificate.rights if words != statement)
    loss = certificate.excludes_consequential_words
    together = f"LIMITED WARRANTY {limit} {statement} {loss} {others}"
    assert not found("us", together, certificate)["US-07"].blocks
    overleaf = f"LIMITED WARRANTY {limit} {loss} {others} \f {statement}"
    assert found("us", overleaf, certificate)["US-07"].blocks
    apart = f"LIMITED WARRANTY {statement} {'and so on ' * 80} {limit} {loss} {others}"
    assert "beside the limit" in str(found("us", apart, certificate)["US-07"].message)


@pytest.mark.parametrize(
    ("code", "identifier", "changes"),
    [
        ("us", "US-01", {"transfer_words": "Only the first owner is covered."}),
        ("us", "US-02", {"panels": ("Bonnet", "Roof")}),
        ("us", "US-03", {"paid": "We pay for the coffee."}),
        ("us", "US-04", {"lines": (replace(LINES[0], term=Term(years=4), last_day=None), LINES[1])}),
        ("us", "US-05", {"claim_steps": ("Write a letter.", "Wait.")}),
        ("eu-ie", "EU-02", {"warrantors": ()}),
        ("eu-ie", "EU-03", {"claim_steps": ("Write a letter.",)}),
        ("eu-ie", "EU-04", {"products": ("Birch Matt",)}),
        ("eu-ie", "EU-05", {"territory": "Ruritania"}),
        ("uk", "UK-01", {"claim_steps": ("Write a letter.",)}),
        ("uk", "UK-05", {"territory": "Ruritania"}),
        ("au", "AU-07", {"claim_address": "9 Nowhere Road"}),
        ("au", "AU-08", {"claim_expense_words": "Ask nicely."}),
    ],
)
def test_words_of_the_certificate_that_are_not_in_print_are_named(
    code: str, identifier: str, changes: dict[str, Any]
) -> None:
    """The document was printed from another text than the one that was checked."""
    text = printed(satisfying(code))
    other = satisfying(code, **changes)
    if identifier in ("US-04", "EU-02"):
        text = text.replace("2031-11-11", "2030-11-11").replace("Alder Films", "Elder Films")
        other = satisfying(code)
    result = found(code, text, other, certificate=other, day_words=str)[identifier]
    assert result.state is State.MISSING
    assert "Not found in print" in str(result.message)


@pytest.mark.parametrize(
    ("identifier", "sentence"),
    [
        ("0.3", "See our website for exclusions."),
        ("0.8", "After that day you have no further rights."),
        ("CHECK-OFFER", "Void if the two-week check is missed."),
        ("US-N1", "We disclaim all implied warranties."),
        ("US-N2", "Void unless the annual check is paid for at our shop."),
        ("US-N3", "The film must be cleaned with approved products."),
        ("US-N4", "Void if washed with a pressure washer."),
        ("US-N5", "Void unless the registration card is returned."),
        ("US-N6", "Our decision is final."),
        ("US-N7", "An extended warranty is available for an extra charge."),
    ],
)
def test_words_that_must_not_be_said_are_found_in_print_across_line_ends(
    identifier: str, sentence: str
) -> None:
    certificate = satisfying("us")
    text = printed(certificate) + "\f" + sentence.replace(" ", "\n")
    result = found("us", text, certificate)[identifier]
    assert result.asks_reason
    assert result.found in sentence
    assert found("us", printed(certificate), certificate)[identifier].state is State.MET
