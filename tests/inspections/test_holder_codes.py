"""From the paper to the holder's page: the square opens only the public page, a code by mail more."""

import re
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from shopwarranty.inspections.holder import codes
from shopwarranty.inspections.holder.links import holder_link
from shopwarranty.inspections.models import OneTimeCode
from shopwarranty.jobs.models import HolderLink, Holding
from shopwarranty.outbox.models import Message
from shopwarranty.warranty.models import Certificate
from tests import builders as b
from tests.warranty.conftest import make_yard
from tests.warranty.conftest import plain_pdf as plain_pdf

from .test_holder import text_of


class Clock:
    def __init__(self, at: datetime) -> None:
        self.at = at

    def __call__(self) -> datetime:
        return self.at


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    clock = Clock(b.NOW)
    monkeypatch.setattr(timezone, "now", clock)
    return clock


@pytest.fixture
def certificate(ours: Any, clock: Clock, plain_pdf: None) -> Certificate:
    yard = make_yard(ours)
    issued = yard.issue(yard.job(vehicle=yard.vehicle(holder="Wanda Example")))
    issued.holder.email = "wanda@example.com"
    issued.holder.save()
    Message.objects.all().delete()
    return issued


def address(name: str, certificate: Certificate) -> str:
    return reverse(name, args=[certificate.number, certificate.code])


def ask(certificate: Certificate, **more: Any) -> Any:
    return Client(**more).post(address("holder-code", certificate), follow=True)


def sent_code() -> str:
    message = Message.objects.filter(about__startswith="one-time-code").order_by("-pk")[0]
    found = re.search(r"\b(\d{6})\b", message.text)
    assert found
    assert message.to == "wanda@example.com"
    return found.group(1)


def enter(certificate: Certificate, typed: str, **more: Any) -> Any:
    return Client(**more).post(address("holder-enter", certificate), {"typed": typed})


def opened(answer: Any) -> bool:
    return answer.status_code == 302 and str(answer["Location"]).startswith("/your-film/")


def test_the_public_page_leads_there_and_itself_opens_nothing(certificate: Certificate) -> None:
    page = Client().get(address("public-certificate", certificate)).content.decode()
    assert address("holder-code", certificate) in page
    assert "/your-film/" not in page
    assert not HolderLink.objects.exists()


def test_the_code_from_the_mail_opens_the_page_for_a_day(certificate: Certificate, clock: Clock) -> None:
    ask(certificate)
    answer = enter(certificate, f" {sent_code()[:3]} {sent_code()[3:]} ")
    assert opened(answer)
    page = Client().get(answer["Location"])
    assert "What is covered" in text_of(page)
    clock.at += timedelta(days=1, minutes=1)
    assert Client().get(answer["Location"]).status_code == 404


def test_it_works_once(certificate: Certificate) -> None:
    ask(certificate)
    code = sent_code()
    assert opened(enter(certificate, code))
    assert not opened(enter(certificate, code))


def test_it_ends_after_twenty_minutes(certificate: Certificate, clock: Clock) -> None:
    ask(certificate)
    message = Message.objects.get()
    assert message.not_after == b.NOW + timedelta(minutes=20)  # late in the mail it would be of no use
    clock.at += timedelta(minutes=20)
    assert not opened(enter(certificate, sent_code()))


def test_after_five_wrong_ones_the_right_one_opens_nothing_either(certificate: Certificate) -> None:
    ask(certificate)
    code = sent_code()
    for number in range(5):
        assert not opened(enter(certificate, f"x{number}"))
    assert not opened(enter(certificate, code))
    ask(certificate)
    assert opened(enter(certificate, sent_code()))


def test_only_the_newest_code_counts(certificate: Certificate) -> None:
    ask(certificate)
    old = sent_code()
    ask(certificate)
    assert old == sent_code() or not opened(enter(certificate, old))


def test_only_a_keyed_hash_of_the_code_is_stored(certificate: Certificate) -> None:
    ask(certificate)
    assert sent_code() not in str(OneTimeCode.objects.values().get())


@pytest.mark.parametrize("why", ["no address", "refused", "sold", "withdrawn", "hidden"])
def test_the_answer_never_says_whether_there_is_an_address(
    certificate: Certificate, why: str, clock: Clock
) -> None:
    there = text_of(ask(certificate))
    Message.objects.all().delete()
    if why == "no address":
        certificate.holder.email = ""
    elif why == "refused":
        certificate.holder.email_refused_at = b.NOW
    certificate.holder.save()
    if why == "sold":
        Holding.objects.update(until=b.TODAY)
    elif why == "withdrawn":
        Certificate.objects.update(state="withdrawn", withdrawn_at=b.NOW, withdrawn_reason="issued_in_error")
    elif why == "hidden":
        Certificate.objects.update(holder_hidden_at=b.NOW)
    clock.at += timedelta(hours=1)
    assert text_of(ask(certificate)) == there
    assert not Message.objects.exists()


def test_with_and_without_an_address_the_database_is_asked_the_same(
    certificate: Certificate,
) -> None:
    """What is done is done in both cases, and in one of them taken back: the time it takes says nothing."""
    asked: dict[str, Any] = {"certificate": certificate, "asked_from": "192.0.2.1", "now": b.NOW}
    codes.send_code(**asked)  # the first of an hour also makes the counters
    with CaptureQueriesContext(connection) as queries:
        codes.send_code(**asked)
    certificate.holder.email_refused_at = b.NOW
    certificate.holder.save()
    with CaptureQueriesContext(connection) as without:
        codes.send_code(**asked)
    assert abs(len(queries) - len(without)) <= 1  # who cannot be written to saves one look-up


def test_codes_and_tries_are_counted(certificate: Certificate) -> None:
    for _ in range(codes.SENT_AN_HOUR + 2):
        ask(certificate)
    assert Message.objects.count() == codes.SENT_AN_HOUR
    for _ in range(codes.TRIED_AN_HOUR):
        enter(certificate, "000000x")
    OneTimeCode.objects.update(wrong=0)
    assert not opened(enter(certificate, sent_code()))
    OneTimeCode.objects.update(wrong=0)


def test_number_without_its_code_leads_nowhere(certificate: Certificate) -> None:
    for name in ("holder-code", "holder-enter"):
        for ask_for in (Client().get, Client().post):
            answer = ask_for(reverse(name, args=[certificate.number, "WRONG"]))
            assert answer.status_code == 404
            assert "kiln" not in answer.content.decode().lower()


def test_the_certificate_opens_for_its_holder_and_not_for_a_contact(certificate: Certificate) -> None:
    vehicle = certificate.vehicle
    driver = b.a_holder("D. Driver")
    Holding.objects.create(vehicle=vehicle, party=driver, role="contact", since=b.TODAY)
    for party, status in ((certificate.holder, 200), (driver, 404)):
        path = holder_link(vehicle, to=party, now=b.NOW).removeprefix("https://kiln.example")
        page = Client().get(path).content.decode()
        assert ("Certificate as PDF" in page) == (status == 200)
        assert "An edge" in page or "edge" in page
        answer = Client().get(f"{path}certificate/{certificate.pk}.pdf")
        assert answer.status_code == status
        if status == 200:
            assert answer["Content-Type"] == "application/pdf"
            assert answer.content.startswith(b"%PDF")
