"""Certificates and plans at the desk, as they are used."""

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from shopwarranty.desk.handover import what_is_missing
from shopwarranty.jobs.models import Job
from shopwarranty.outbox.models import Message
from shopwarranty.shops.models import Shop
from shopwarranty.shops.stored_bytes import path_of
from shopwarranty.warranty import actions
from shopwarranty.warranty.models import Certificate, PlanVersion, TextConfirmation
from shopwarranty.warranty.plan_forms import PlanForm, initial_lines
from shopwarranty.warranty.refusals import TextsUnread
from tests.conftest import NOW
from tests.warranty.conftest import Yard

pytestmark = pytest.mark.usefixtures("plain_pdf")


@pytest.fixture(autouse=True)
def now_is_fixed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


def url(name: str, yard: Yard, *rows: Any) -> str:
    return reverse(name, args=[yard.shop.slug, *(row.pk for row in rows)])


def owner(yard: Yard) -> Any:
    return yard.people.client(yard.people.owner)


def test_a_certificate_is_found_by_number_plate_vin_end_and_name(yard: Yard) -> None:
    certificate = yard.issue()
    for words in (certificate.number, "7fn-402", "000123", "a. exam"):
        text = owner(yard).get(url("certificates", yard), {"q": words}).content.decode()
        assert certificate.number in text, words
    assert "Nothing found" in owner(yard).get(url("certificates", yard), {"q": "zzz"}).content.decode()


def test_an_empty_list_says_what_to_do(yard: Yard) -> None:
    assert "press Preview and hand over" in owner(yard).get(url("certificates", yard)).content.decode()


def test_the_list_costs_the_same_however_long_it_is(yard: Yard) -> None:
    client = owner(yard)
    yard.issue(yard.job(panels=("bonnet",)))
    client.get(url("certificates", yard))
    with CaptureQueriesContext(connection) as few:
        client.get(url("certificates", yard))
    for number in range(4):
        yard.issue(
            yard.job(vehicle=yard.vehicle(vin="", vin_kind="none", plate=f"P {number}"), panels=("bonnet",))
        )
    with CaptureQueriesContext(connection) as many:
        client.get(url("certificates", yard))
    assert len(many) == len(few)


def test_one_is_withdrawn_with_a_reason_and_the_holder_is_told(yard: Yard) -> None:
    certificate = yard.issue()
    page = url("certificate-withdraw", yard, certificate)
    assert owner(yard).post(page, {"reason": "unpaid", "note": "x"}).status_code == 200
    assert Certificate.objects.get().state == "issued"
    answer = owner(yard).post(page, {"reason": "contract_undone", "note": "both agreed"})
    assert answer["Location"] == url("certificate", yard, certificate)
    assert Certificate.objects.get().state == "withdrawn"
    message = Message.objects.get()
    assert "was withdrawn" in message.subject
    assert "Rights that you have under the law" in message.text
    assert yard.people.client(yard.people.desk).get(page).status_code == 403


def test_a_new_edition_needs_something_that_differs(yard: Yard) -> None:
    certificate = yard.issue()
    page = url("certificate-replace", yard, certificate)
    assert "there is nothing to replace" in owner(yard).post(page, {"why": "again"}).content.decode()
    type(certificate.holder).objects.update(name="B. Example")
    answer = owner(yard).post(page, {"why": "the name was misspelt"})
    second = Certificate.objects.get(edition=2)
    assert answer["Location"] == url("certificate", yard, second)
    text = owner(yard).get(url("certificate", yard, second)).content.decode()
    assert "the name was misspelt" in text
    assert "Edition 1" in text


def test_one_press_sends_it_once_more(yard: Yard) -> None:
    certificate = yard.issue()
    for _ in range(2):
        owner(yard).post(url("certificate-send", yard, certificate), {"nth": "1"})
    assert Message.objects.get().attachments[0]["sha256"] == certificate.pdf_sha256


def test_one_that_was_withdrawn_is_not_sent_with_words_that_it_stands(yard: Yard) -> None:
    certificate = yard.issue()
    page = owner(yard).get(url("certificate", yard, certificate)).content.decode()
    assert url("certificate-send", yard, certificate) in page
    actions.withdraw_certificate(
        certificate=certificate, reason="issued_in_error", note="x", actor=yard.actor, now=NOW
    )
    told = Message.objects.count()
    answer = owner(yard).post(url("certificate-send", yard, certificate), {"nth": "9"}, follow=True)
    assert "It is not in force any more" in answer.content.decode()
    assert url("certificate-send", yard, certificate) not in answer.content.decode()
    assert Message.objects.count() == told


@pytest.mark.breaks("a_certificates_paper_lies_under_its_hash")
def test_a_damaged_file_is_not_shown(yard: Yard, settings: Any) -> None:
    certificate = yard.issue()
    (settings.MEDIA_ROOT / path_of(certificate.pdf_sha256)).write_bytes(b"%PDF other")
    answer = owner(yard).get(url("certificate-pdf", yard, certificate), follow=True)
    assert "damaged" in answer.content.decode()


def typed(version: PlanVersion, **changes: Any) -> dict[str, Any]:
    """The editor's form as a browser sends it back."""
    values: dict[str, Any] = {}
    for name, value in PlanForm.initial_of(version).items():
        if isinstance(value, list):
            values[name] = "\n".join(value)
        elif value is not False:
            values[name] = value
    lines = initial_lines(version)
    values |= {"line-TOTAL_FORMS": len(lines) + 1, "line-INITIAL_FORMS": len(lines)}
    for number, line in enumerate(lines):
        values |= {f"line-{number}-{name}": value for name, value in line.items()}
    return {**values, f"line-{len(lines)}-surface": "all", **changes}


def test_a_version_is_written_checked_and_published(yard: Yard) -> None:
    client, plan = owner(yard), yard.plan.plan
    new_line = {
        "line-2-title": "Film turns yellow",
        "line-2-term": "2 years 6 months",
        "line-2-warrantor": "shop",
        "line-2-remedy": "We lay new film on that panel.",
    }
    answer = client.post(url("plan-edit", yard, plan), typed(yard.plan, save="1", **new_line))
    draft = PlanVersion.objects.get(number=2)
    assert answer["Location"] == url("plan-version", yard, draft)
    assert draft.published_at is None
    assert [(line.years, line.months) for line in draft.lines.all()] == [(1, 0), (0, 3), (2, 6)]
    client.post(url("plan-publish", yard, draft))
    draft.refresh_from_db()
    assert draft.published_at == NOW
    assert "Film turns yellow" in client.get(url("plan-version", yard, draft)).content.decode()


def test_what_must_not_be_said_is_named_and_needs_the_owners_reason(yard: Yard) -> None:
    client, plan = owner(yard), yard.plan.plan
    words = "This warranty is void unless it is washed with Brightfoam soap."
    looked = client.post(url("plan-edit", yard, plan), typed(yard.plan, look="1", aftercare=words))
    assert "US-N2" in looked.content.decode()
    assert PlanVersion.objects.count() == 1
    client.post(url("plan-edit", yard, plan), typed(yard.plan, save="1", aftercare=words))
    draft = PlanVersion.objects.get(number=2)
    client.post(url("plan-publish", yard, draft))
    draft.refresh_from_db()
    assert draft.published_at is None
    reasons = {f"reason-{item}": "our lawyer agreed" for item in ("US-N1", "US-N2", "US-N3", "US-N4", "0.3")}
    client.post(url("plan-publish", yard, draft), reasons)
    draft.refresh_from_db()
    assert draft.published_at == NOW


def test_the_checklist_follows_what_is_typed(yard: Yard) -> None:
    answer = owner(yard).post(
        url("plan-edit", yard, yard.plan.plan), typed(yard.plan, beside="1", not_paid=" ")
    )
    text = answer.content.decode()
    assert "<html" not in text
    assert "see what is marked" in text


def test_a_term_nobody_can_read_is_refused_and_kept(yard: Yard) -> None:
    text = owner(yard).post(
        url("plan-edit", yard, yard.plan.plan), typed(yard.plan, save="1", **{"line-0-term": "for ever"})
    )
    assert "for ever" in text.content.decode()
    assert "5 years, 18 months or 14 days" in text.content.decode()


def test_required_wording_is_confirmed_with_who_when_and_where(yard: Yard) -> None:
    client = owner(yard)
    assert "which vary from State to State" in client.get(url("legal-texts", yard)).content.decode()
    Shop.objects.filter(pk=yard.shop.pk).update(legal_profile="eu", country="FR")
    yard.published(language="fr", territory="France")
    assert "affecte pas ces droits" in client.get(url("legal-texts", yard)).content.decode()
    client.post(url("legal-texts", yard), {"identifier": "EU-01 fr", "read_where": "the official print"})
    row = TextConfirmation.objects.get(identifier="EU-01 fr")
    assert (row.member, row.at, row.read_where) == (yard.people.owner, NOW, "the official print")


def test_wording_nobody_compared_blocks_a_certificate_in_that_language_only(yard: Yard) -> None:
    """The English statement was compared with its source, the French one was not."""
    french = yard.published(language="fr", territory="France")
    job = yard.job(panels=("bonnet",))
    with pytest.raises(TextsUnread) as refusal:
        yard.issue(job, plan_version=french, legal_profile="eu-fr")
    assert refusal.value.identifiers == ("EU-01 fr",)
    assert Certificate.objects.count() == 0
    english = yard.published(language="en", territory="Ireland")
    assert yard.issue(job, plan_version=english, legal_profile="eu-ie").legal_profile == "eu-ie"


def test_before_the_handover_unread_wording_is_named_and_no_reason_makes_up_for_it(yard: Yard) -> None:
    yard.published(language="fr", territory="France")
    Shop.objects.filter(pk=yard.shop.pk).update(legal_profile="eu", country="FR")
    job = yard.job(panels=("bonnet",))
    gap = next(
        each for each in what_is_missing(Job.objects.get(pk=job.pk), NOW) if each.key == "texts-unread"
    )
    assert gap.blocks
    assert "EU-01 fr" in gap.words


def test_the_start_is_marked_until_somebody_wrote_a_version(yard: Yard) -> None:
    assert "have it checked by a lawyer" in owner(yard).get(url("plans", yard)).content.decode()
    yard.published()
    assert "have it checked by a lawyer" not in owner(yard).get(url("plans", yard)).content.decode()


def test_another_plan_starts_as_a_copy_and_takes_its_own_name(yard: Yard) -> None:
    client = owner(yard)
    answer = client.post(url("plans", yard), {"name": "Full cover"})
    text = client.get(answer["Location"]).content.decode()
    assert "An edge, corner or recess lifts" in text
    assert (
        "Another plan has this name."
        in client.post(url("plans", yard), {"name": "full cover"}).content.decode()
    )
