"""The handover page in use: what is typed is kept, the look is taken, the act leads to its result."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from shopwarranty.inspections.models import Finding, Visit
from shopwarranty.jobs.models import Job, PanelWork, RemovedItem
from shopwarranty.shops.models import Shop
from shopwarranty.warranty.actions import withdraw_certificate
from shopwarranty.warranty.models import Certificate, ReasonGiven
from tests.conftest import NOW
from tests.warranty.conftest import TODAY, Yard

pytestmark = pytest.mark.usefixtures("plain_pdf")


@pytest.fixture
def client(yard: Yard) -> Any:
    return yard.people.client(yard.people.installer)


def url(name: str, yard: Yard, *rows: Any) -> str:
    return reverse(name, args=[yard.shop.slug, *(row.pk for row in rows)])


def test_the_page_says_what_is_missing_in_order_and_the_button_waits(yard: Yard, client: Any) -> None:
    Shop.objects.filter(pk=yard.shop.pk).update(public_url="")
    job = yard.job(vehicle=yard.vehicle(vin="", vin_kind="to_read", holder=""))
    text = client.get(url("hand-over", yard, job)).content.decode()
    assert "3 things have to be put right before handover." in text
    order = [
        text.index(words) for words in ("The VIN is still", "Nobody is recorded", "public https address")
    ]
    assert order == sorted(order)
    assert "disabled" in text.split("Hand over and issue")[0][-200:]


def test_a_look_panel_by_panel_answers_the_question(yard: Yard, client: Any) -> None:
    job = yard.job()
    for work in PanelWork.objects.filter(job=job):
        client.post(url("hand-over-look-clean", yard, job, work))
    assert Visit.objects.get(job=job).is_handover_look
    assert not Finding.objects.exclude(result="clean").exists()
    text = client.get(url("hand-over", yard, job)).content.decode()
    assert "Ready to hand over." in text


def test_a_look_said_too_fast_is_taken_back(yard: Yard, client: Any) -> None:
    job = yard.job()
    work = PanelWork.objects.filter(job=job).first()
    client.post(url("hand-over-look-clean", yard, job, work))
    client.post(url("hand-over-look-clean", yard, job, work), {"undo": "1"})
    assert Finding.objects.count() == 0


def test_what_was_typed_stays_when_something_else_is_asked(yard: Yard, client: Any) -> None:
    job = yard.job()
    item = RemovedItem.objects.create(panel_work=PanelWork.objects.get(job=job, panel="bonnet"), name="badge")
    answer = client.post(url("hand-over", yard, job), {"mail": "yes", "reason-no_look": "it rains"})
    text = answer.content.decode()
    assert "it rains" in text
    assert "Write why this goes on all the same." in text
    assert not ReasonGiven.objects.exists()
    reasons = {"reason-no_look": "it rains", f"reason-not_refitted:{item.pk}": "sent on by post"}
    answer = client.post(url("hand-over", yard, job), {"mail": "yes", **reasons})
    assert answer["Location"] == url("handed-over", yard, job)
    assert ReasonGiven.objects.count() == 2


def test_the_result_shows_certificate_mail_and_next_check(yard: Yard, client: Any) -> None:
    job = yard.job()
    client.post(url("hand-over", yard, job), {"mail": "yes", "reason-no_look": "it rains"})
    text = client.get(url("handed-over", yard, job)).content.decode()
    certificate = Certificate.objects.get()
    assert certificate.number in text
    assert "holder@example.com" in text
    assert "Two-week edge check" in text
    pdf = client.get(url("certificate-pdf", yard, certificate) + "?download=1")
    assert pdf["Content-Type"] == "application/pdf"
    assert pdf["Content-Disposition"] == f'attachment; filename="{certificate.number}.pdf"'
    assert pdf.content.startswith(b"%PDF")


def test_pressing_twice_leads_to_the_same_result(yard: Yard, client: Any) -> None:
    job = yard.job()
    for _ in range(2):
        answer = client.post(url("hand-over", yard, job), {"mail": "no", "reason-no_look": "it rains"})
        assert answer["Location"] == url("handed-over", yard, job)
    assert Certificate.objects.count() == 1


def test_reasons_can_be_kept_for_somebody_else_to_hand_over(
    yard: Yard, client: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(timezone, "now", lambda: NOW)  # after the panels were finished
    job = yard.job()
    client.post(url("hand-over", yard, job), {"keep": "1", "mail": "yes", "reason-no_look": "it rains"})
    assert Job.objects.get(pk=job.pk).state == "open"
    desk = yard.people.client(yard.people.desk)
    text = desk.get(url("hand-over", yard, job)).content.decode()
    assert "it rains" in text
    assert desk.post(url("hand-over", yard, job), {"mail": "yes"})["Location"] == url(
        "handed-over", yard, job
    )


def test_the_preview_is_a_pdf_that_nobody_keeps(yard: Yard, client: Any) -> None:
    answer = client.get(url("hand-over-preview", yard, yard.job(panels=("bonnet",))))
    assert answer["Content-Type"] == "application/pdf"
    assert "no-store" in answer["Cache-Control"]
    assert not Certificate.objects.exists()


def test_E06_without_a_vin_there_is_a_draft_to_look_at_and_no_certificate(yard: Yard, client: Any) -> None:
    job = yard.job(vehicle=yard.vehicle(vin="", vin_kind="to_read"), panels=("bonnet",))
    answer = client.get(url("hand-over-preview", yard, job))
    assert answer["Content-Type"] == "application/pdf"
    client.post(url("hand-over", yard, job), {"mail": "yes", "reason-no_look": "it rains"})
    job.refresh_from_db()
    assert job.state != Job.State.HANDED_OVER
    assert not Certificate.objects.exists()


def asked(act: Callable[[], Any]) -> int:
    with CaptureQueriesContext(connection) as queries:
        act()
    return len(queries)


def test_the_page_asks_the_database_as_often_for_eight_panels_as_for_one(yard: Yard, client: Any) -> None:
    one = yard.job(panels=("bonnet",))
    eight = yard.job(vehicle=yard.vehicle(vin="", vin_kind="none"))
    client.get(url("hand-over", yard, one))
    few = asked(lambda: client.get(url("hand-over", yard, one)))
    assert asked(lambda: client.get(url("hand-over", yard, eight))) <= few + 1
    assert few < 70


def test_a_certificate_can_be_issued_for_the_planned_day_and_after_a_handover_without_one(
    yard: Yard, client: Any
) -> None:
    ahead = NOW.date() + timedelta(days=4000)
    job = yard.job(planned_handover_on=ahead)
    assert "Issue it beforehand" in client.get(url("hand-over", yard, job)).content.decode()
    client.post(url("issue-apart", yard, job))
    client.post(url("issue-apart", yard, job))
    assert Certificate.objects.get().starts_on == ahead
    past = yard.job(vehicle=yard.vehicle(vin="", vin_kind="none"))
    Job.objects.filter(pk=past.pk).update(state="handed_over", handed_over_at=NOW, handed_over_on=TODAY)
    assert "Issue it now" in client.get(url("handed-over", yard, past)).content.decode()
    client.post(url("issue-apart", yard, past))
    assert Certificate.objects.get(job=past).starts_on == TODAY


def test_a_visit_of_another_kind_is_not_taken_for_the_handover_look(yard: Yard, client: Any) -> None:
    job = yard.job()
    client.post(url("start-look", yard, job), {"origin": "walk_in"})
    work = PanelWork.objects.filter(job=job).first()
    answer = client.post(url("hand-over-look-clean", yard, job, work), follow=True)
    assert "Another look at this vehicle is still open." in answer.content.decode()
    assert not Finding.objects.exists()


def test_after_a_withdrawal_the_page_says_that_none_is_in_force_and_the_right_one_can_be_issued(
    yard: Yard, client: Any
) -> None:
    job = yard.job()
    client.post(url("hand-over", yard, job), {"mail": "no", "reason-no_look": "it rains"})
    wrong = Certificate.objects.get()
    assert (
        f"Certificate {wrong.number} is issued." in client.get(url("handed-over", yard, job)).content.decode()
    )
    withdraw_certificate(
        certificate=wrong, reason="issued_in_error", note="wrong panels", actor=yard.actor, now=NOW
    )
    assert "No certificate is in force." in client.get(url("handed-over", yard, job)).content.decode()
    client.post(url("issue-apart", yard, job))
    right = Certificate.objects.get(state="issued")
    assert (right.starts_on, right.number != wrong.number) == (wrong.starts_on, True)
