"""Sold vehicles: E01 to E03 of the project's awkward cases (common practice, no source).

15 USC 2301(3): a consumer is also whoever the product is transferred to while the warranty runs.
"""

import io
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from shopwarranty.jobs import actions as jobs
from shopwarranty.jobs.models import HolderLink, Holding, Job, Party, Vehicle
from shopwarranty.outbox.models import Message
from shopwarranty.shops import stored_bytes
from shopwarranty.warranty import actions, refusals
from shopwarranty.warranty.models import Certificate, Transfer
from shopwarranty.warranty.preparing import prepare_edition
from shopwarranty.warranty.proof import faults_of
from shopwarranty.warranty.transfers import Sale, transfer_vehicle
from tests.conftest import NOW
from tests.warranty.conftest import TODAY, Yard


def handed_over(job: Job, on: date = TODAY) -> Job:
    Job.objects.filter(pk=job.pk).update(state="handed_over", handed_over_on=on, handed_over_at=NOW)
    job.refresh_from_db()
    return job


def issued(yard: Yard, **words: Any) -> Certificate:
    plan = yard.published(**words) if words else yard.plan
    certificate = yard.issue(plan_version=plan)
    handed_over(certificate.job)
    return certificate


def buyer(yard: Yard, name: str = "B. Sample") -> Party:
    return jobs.add_party(
        name=name, email="next@example.com", address="2 Other Road", actor=yard.actor, now=NOW
    )


def sell(yard: Yard, certificate: Certificate, to: Party | None = None, **more: Any) -> Certificate:
    sale = Sale(**{"to_party": to or buyer(yard), "on": TODAY, "agreed": True, **more})
    return transfer_vehicle(vehicle=certificate.vehicle, sale=sale, actor=yard.actor, now=NOW)[0]


def text_of(certificate: Certificate) -> str:
    reader = PdfReader(io.BytesIO(stored_bytes.read(certificate.pdf_sha256)))
    return " ".join(" ".join(page.extract_text() for page in reader.pages).split())


def public(certificate: Certificate) -> str:
    return (
        Client()
        .get(reverse("public-certificate", args=[certificate.number, certificate.code]))
        .content.decode()
    )


def test_E01_a_sale_gives_the_new_holder_an_edition_with_the_same_last_days(yard: Yard) -> None:
    first = issued(yard)
    second = sell(yard, first)
    first.refresh_from_db()
    assert (first.state, second.edition, second.number) == ("replaced", 2, first.number)
    assert second.holder.name == "B. Sample"
    assert set(first.covers.values_list("piece", "line", "starts_on", "last_day")) == set(
        second.covers.values_list("piece", "line", "starts_on", "last_day")
    )
    transfer = Transfer.objects.get()
    assert (transfer.from_party.name, transfer.to_party.name) == ("A. Example", "B. Sample")
    assert (transfer.on, transfer.allowed_by_terms, transfer.consented_at) == (TODAY, True, NOW)
    assert list(faults_of(second)) == list(faults_of(first)) == []


def test_E01_nothing_of_the_old_holder_reaches_the_new_one(yard: Yard) -> None:
    first = issued(yard)
    old_link = HolderLink.objects.create(
        vehicle=first.vehicle,
        party=first.holder,
        token_hash="h",
        scope="vehicle",
        made_at=NOW,
        expires_at=NOW,
    )
    second = sell(yard, first)
    first.refresh_from_db()
    old_link.refresh_from_db()
    printed = text_of(second)
    for hidden in ("A. Example", "9 Sample Street", "holder@example.com"):
        assert hidden not in printed
        assert hidden not in public(second)
    assert "B. Sample" in printed
    assert first.holder_hidden_at is not None
    assert second.holder_hidden_at is None
    assert old_link.revoked_at is not None
    message = Message.objects.get(about=f"certificate:{second.pk}")
    assert message.to == "next@example.com"
    assert "A. Example" not in message.text + message.html


def test_E01_the_old_paper_says_that_a_later_edition_took_its_place(yard: Yard, today: Any) -> None:
    first = issued(yard)
    second = sell(yard, first)
    assert "replaced by a later edition" in public(first)
    assert "Genuine and in force" in public(second)


def test_E01_without_the_new_holders_agreement_nothing_is_written(yard: Yard) -> None:
    first = issued(yard)
    with pytest.raises(refusals.ConsentNeeded):
        sell(yard, first, agreed=False)
    assert not Transfer.objects.exists()
    assert Holding.objects.get(role="holder", until__isnull=True).party == first.holder


@pytest.mark.parametrize("on", [TODAY - timedelta(days=1), TODAY + timedelta(days=1)])
def test_a_sale_lies_between_handover_and_today(yard: Yard, on: date) -> None:
    with pytest.raises(refusals.DayOutOfOrder):
        sell(yard, issued(yard), on=on)


@pytest.mark.usefixtures("plain_pdf")
def test_cover_that_passes_once_passes_once(yard: Yard, today: Any) -> None:
    first = issued(yard, transfer="once_with_notice")
    second = sell(yard, first)
    third = sell(yard, second, buyer(yard, "C. Sample"))
    assert (second.edition, third.pk) == (2, second.pk)
    assert [row.allowed_by_terms for row in Transfer.objects.order_by("pk")] == [True, False]
    assert "ended when the vehicle was sold" in public(second)


def test_E02_where_the_terms_do_not_let_it_pass_the_sale_is_kept_and_rights_under_law_are_said(
    yard: Yard, today: Any
) -> None:
    first = issued(yard, transfer="none")
    before = stored_bytes.read(first.pdf_sha256)
    same = sell(yard, first)
    first.refresh_from_db()
    assert (same.pk, first.state) == (first.pk, "issued")
    assert Transfer.objects.get().allowed_by_terms is False
    assert stored_bytes.read(first.pdf_sha256) == before
    answer = public(first)
    assert "By its terms its cover ended when the vehicle was sold" in answer
    assert "rights under the law are not touched" in answer
    message = Message.objects.get(key=f"certificate:{first.pk}:sold")
    assert "Rights under the law stand beside the certificate" in message.text
    assert Certificate.objects.count() == 1


def test_E02_the_desk_sees_it_among_those_that_ended(yard: Yard, today: Any) -> None:
    first = issued(yard, transfer="none")
    sell(yard, first)
    client = yard.people.client(yard.people.owner)
    lists = {
        show: client.get(reverse("certificates", args=["kiln"]), {"show": show}).content.decode()
        for show in ("", "ended")
    }
    assert first.number not in lists[""]
    assert first.number in lists["ended"]
    assert "ended with the sale, by its terms" in lists["ended"]


def test_E03_a_new_owner_who_turns_up_is_found_by_plate_and_taken_over_from_the_vehicle(
    yard: Yard, today: Any
) -> None:
    first = issued(yard)
    client = yard.people.client(yard.people.owner)
    assert (
        first.number in client.get(reverse("certificates", args=["kiln"]), {"q": "7FN402"}).content.decode()
    )
    page = reverse("vehicle-sold", args=["kiln", first.vehicle_id])
    assert "passes to the new holder" in client.get(page).content.decode()
    said = {"on": "2026-11-25", "kind": "person", "name": "B. Sample", "buys": "consumer", "agreed": "on"}
    assert client.post(page, said).status_code == 302
    assert Certificate.objects.get(state="issued").holder.name == "B. Sample"


def test_another_holder_is_no_correction_unless_the_name_never_was_right(yard: Yard) -> None:
    first = issued(yard)
    party = buyer(yard)
    jobs.hold_vehicle(
        vehicle=first.vehicle, party=party, role="holder", since=TODAY, actor=yard.actor, now=NOW
    )
    with pytest.raises(refusals.HolderDiffers):
        actions.replace_certificate(certificate=first, why="name", actor=yard.actor, now=NOW)
    second = actions.replace_certificate(
        certificate=first, why="mixed up at the desk", wrong_holder=True, actor=yard.actor, now=NOW
    )
    assert second.holder == party


@pytest.mark.usefixtures("plain_pdf")
def test_two_who_record_the_sale_at_once_record_it_once(
    yard: Yard, monkeypatch: pytest.MonkeyPatch, codes: Callable[[], str]
) -> None:
    """The second one prepared before the first had written."""
    first = issued(yard)
    other = buyer(yard, "C. Sample")
    slow = prepare_edition

    def overtaken(**more: Any) -> Any:
        prepared = slow(**more)
        monkeypatch.setattr("shopwarranty.warranty.transfers.prepare_edition", slow)
        sell(yard, Certificate.objects.get(pk=first.pk))
        return prepared

    monkeypatch.setattr("shopwarranty.warranty.transfers.prepare_edition", overtaken)
    with pytest.raises(refusals.NotInForce):
        sell(yard, first, other)
    assert Transfer.objects.get().to_party.name == "B. Sample"
    assert Certificate.objects.filter(state="issued").count() == 1


@pytest.fixture
def today(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


def test_only_an_owner_records_a_sale(yard: Yard) -> None:
    vehicle = Vehicle.objects.get(pk=issued(yard).vehicle_id)
    page = reverse("vehicle-sold", args=["kiln", vehicle.pk])
    for member in (yard.people.desk, yard.people.installer):
        assert yard.people.client(member).get(page).status_code == 403
