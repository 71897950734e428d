"""Certificates for many jobs at once: chosen, started, gone through by the worker, and nothing left unsaid.

Cover of a job that left without a certificate counts from its handover day (16 CFR 701.3(a)(4) asks for the
event that sets the start; the project's own rule is the handover).
"""

import uuid
from collections.abc import Callable, Iterator
from datetime import date, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from shopwarranty.desk import batch
from shopwarranty.desk.handover import issue_late
from shopwarranty.desk.models import BatchLine, CertificateBatch
from shopwarranty.jobs.models import Job, Vehicle
from shopwarranty.outbox import tick
from shopwarranty.outbox.models import Message
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Shop
from shopwarranty.shops.scope import every_shop
from shopwarranty.warranty import actions
from shopwarranty.warranty.models import Certificate, Cover
from tests.conftest import NOW, ShopPeople
from tests.warranty.conftest import TODAY, Yard

pytestmark = pytest.mark.usefixtures("plain_pdf")
LEFT_ON = date(2026, 10, 1)


@pytest.fixture(autouse=True)
def now_is_fixed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


def left_without(yard: Yard, nth: int = 0, *, on: date = LEFT_ON, **vehicle: Any) -> Job:
    """As history brings it in: handed over, finished, and never certified."""
    values = {"vin": "", "vin_kind": "none", "plate": f"OLD {nth}", **vehicle}
    job = yard.job(vehicle=yard.vehicle(**values), panels=("bonnet",))
    Job.objects.filter(pk=job.pk).update(
        state="handed_over", handed_over_on=on, handed_over_at=NOW - timedelta(days=55), imported_at=NOW
    )
    job.refresh_from_db()
    return job


def started(yard: Yard, *jobs: Job, mail: bool = False, uid: uuid.UUID | None = None) -> CertificateBatch:
    return batch.start_batch(
        jobs=[job.pk for job in jobs], mail=mail, actor=Actor.of(yard.people.desk), now=NOW,
        uid=uid or uuid.uuid4(),
    )  # fmt: skip


def states(made: CertificateBatch) -> list[str]:
    return list(made.lines.order_by("pk").values_list("state", flat=True))


def page(yard: Yard) -> str:
    return reverse("issue-together", args=[yard.shop.slug])


def desk(yard: Yard) -> Any:
    return yard.people.client(yard.people.desk)


def test_each_is_issued_for_its_own_handover_day_and_by_whoever_asked(yard: Yard) -> None:
    old, older = left_without(yard, 1), left_without(yard, 2, on=date(2026, 6, 30))
    made = started(yard, old, older)
    assert batch.go_on(NOW) == 2
    made.refresh_from_db()
    assert (states(made), made.finished_at) == (["issued", "issued"], NOW)
    first = Certificate.objects.get(job=older)
    assert (first.starts_on, first.issued_on, first.issued_by) == (date(2026, 6, 30), TODAY, yard.people.desk)
    assert set(Cover.objects.filter(certificate__job=old).values_list("starts_on", flat=True)) == {LEFT_ON}
    assert Message.objects.count() == 0  # history sends nothing unless somebody asks for it


def test_a_job_that_waits_for_its_planned_day_is_issued_beforehand(yard: Yard) -> None:
    job = yard.job(planned_handover_on=TODAY + timedelta(days=3))
    made = started(yard, job)
    batch.go_on(NOW)
    assert states(made) == ["issued"]
    assert Certificate.objects.get(job=job).starts_on == TODAY + timedelta(days=3)
    job.refresh_from_db()
    assert job.state == "open"


def test_asked_for_by_mail_each_holder_gets_one(yard: Yard) -> None:
    made = started(yard, left_without(yard, 1), left_without(yard, 2), mail=True)
    batch.go_on(NOW)
    batch.go_on(NOW)
    keys = set(Message.objects.values_list("key", flat=True))
    assert keys == {f"certificate:{line.certificate_id}:issued" for line in made.lines.all()}


def test_what_cannot_be_issued_is_named_with_its_reason_and_the_others_go_on(yard: Yard) -> None:
    unread = left_without(yard, 1, vin_kind="to_read")
    nobody = left_without(yard, 2, holder="")
    fine = left_without(yard, 3)
    ours = yard.job(vehicle=yard.vehicle(holder="", owned="shop", vin="", vin_kind="none"), kind="own")
    made = started(yard, unread, nobody, fine, ours)
    batch.go_on(NOW)
    said = {line.job_id: (line.state, line.words) for line in made.lines.all()}
    assert said[unread.pk][0] == said[nobody.pk][0] == said[ours.pk][0] == "refused"
    assert "VIN is still to be read" in said[unread.pk][1]
    assert "Nobody is recorded as the warranty's holder" in said[nobody.pk][1]
    assert said[ours.pk][1]
    assert said[fine.pk] == ("issued", "")
    text = desk(yard).get(reverse("certificate-batch", args=[yard.shop.slug, made.pk])).content.decode()
    assert "3 were not issued" in text
    assert "VIN is still to be read" in text
    assert reverse("hand-over", args=[yard.shop.slug, unread.pk]) in text


def test_one_that_got_its_certificate_meanwhile_keeps_that_one(yard: Yard) -> None:
    job = left_without(yard)
    made = started(yard, job)
    there = issue_late(job=job, actor=yard.actor, now=NOW)
    batch.go_on(NOW)
    line = made.lines.get()
    assert (line.state, line.certificate) == ("already", there)
    assert Certificate.objects.count() == 1


def test_pressed_twice_it_starts_once_and_gone_through_twice_it_issues_once(yard: Yard) -> None:
    job, uid = left_without(yard), uuid.uuid4()
    assert started(yard, job, uid=uid) == started(yard, job, uid=uid)
    started(yard, job)  # somebody else asked for the same
    batch.go_on(NOW)
    batch.go_on(NOW)
    assert Certificate.objects.count() == 1
    assert sorted(BatchLine.objects.values_list("state", flat=True)) == ["already", "issued"]


def test_a_pass_ends_when_its_time_is_over_and_the_next_one_goes_on(yard: Yard) -> None:
    made = started(yard, *(left_without(yard, nth) for nth in range(3)))
    moments: Iterator[float] = iter([0.0, 1.0, 99.0, 99.0])
    assert batch.go_on(NOW, clock=lambda: next(moments)) == 1
    made.refresh_from_db()
    assert (states(made).count("waiting"), made.finished_at) == (2, None)
    assert batch.go_on(NOW) == 2
    assert states(made) == ["issued"] * 3


def test_what_a_killed_pass_held_is_taken_up_again_after_ten_minutes(
    yard: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = started(yard, left_without(yard))

    def killed(*args: Any) -> None:
        raise SystemExit

    monkeypatch.setattr("shopwarranty.desk.batch.prepared", killed)
    with pytest.raises(SystemExit):
        batch.go_on(NOW)
    monkeypatch.undo()
    assert batch.go_on(NOW + timedelta(minutes=9)) == 0
    assert states(made) == ["waiting"]
    assert batch.go_on(NOW + timedelta(minutes=11)) == 1
    assert states(made) == ["issued"]


def test_a_fault_nobody_foresaw_stops_one_and_not_the_rest(
    yard: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    broken, fine = left_without(yard, 1, on=date(2026, 1, 5)), left_without(yard, 2)
    made = started(yard, broken, fine)
    real: Callable[..., Any] = batch.prepared

    def faulty(job: Job, now: Any) -> Any:
        if job.pk == broken.pk:
            raise ZeroDivisionError
        return real(job, now)

    monkeypatch.setattr("shopwarranty.desk.batch.prepared", faulty)
    batch.go_on(NOW)
    assert states(made) == ["refused", "issued"]
    assert "the operator finds it in the log" in made.lines.earliest("pk").words


def test_stopped_what_is_issued_stays_and_the_rest_is_left_out(yard: Yard) -> None:
    made = started(yard, left_without(yard, 1), left_without(yard, 2))
    moments = iter([0.0, 1.0, 99.0, 99.0])
    batch.go_on(NOW, clock=lambda: next(moments))
    answer = desk(yard).post(reverse("certificate-batch-stop", args=[yard.shop.slug, made.pk]), follow=True)
    assert "One job was left out" in answer.content.decode()
    made.refresh_from_db()
    assert (sorted(states(made)), made.stopped_at, made.finished_at) == (["issued", "stopped"], NOW, NOW)
    assert batch.go_on(NOW) == 0


def test_the_worker_goes_through_it_once_a_minute(yard: Yard) -> None:
    made = started(yard, left_without(yard))
    with every_shop():
        results = {each.name: each for each in tick.run(NOW)}
    assert results["certificates asked for together"].said == "1"
    assert states(made) == ["issued"]


def test_chosen_on_the_page_they_are_started_and_the_page_shows_how_far_it_is(yard: Yard) -> None:
    chosen, other = left_without(yard, 1), left_without(yard, 2)
    text = desk(yard).get(page(yard)).content.decode()
    assert "OLD 1" in text and "OLD 2" in text
    answer = desk(yard).post(page(yard), {"job": [chosen.pk], "mail": "no", "uid": uuid.uuid4()}, follow=True)
    assert "0 of 1 are done" in answer.content.decode()
    batch.go_on(NOW)
    answer = desk(yard).get(answer.redirect_chain[-1][0])
    assert Certificate.objects.get().number in answer.content.decode()
    assert "OLD 1" not in desk(yard).get(page(yard)).content.decode()
    assert not Certificate.objects.filter(job=other).exists()


def test_all_that_lack_nothing_are_started_with_one_press(yard: Yard) -> None:
    ready = [left_without(yard, nth) for nth in range(3)]
    left_without(yard, 8, holder="")
    text = desk(yard).get(page(yard)).content.decode()
    assert "Issue all 3 that lack nothing" in text
    desk(yard).post(page(yard), {"all": "1", "mail": "yes", "uid": uuid.uuid4()})
    made = CertificateBatch.objects.get()
    assert set(made.lines.values_list("job", flat=True)) == {job.pk for job in ready}
    assert made.mail


def test_nothing_chosen_is_said_and_starts_nothing(yard: Yard) -> None:
    left_without(yard)
    answer = desk(yard).post(page(yard), {"mail": "no", "uid": "not one"})
    assert "Choose at least one job" in answer.content.decode()
    assert not CertificateBatch.objects.exists()


def test_what_stops_every_certificate_is_said_once_and_nothing_starts(yard: Yard) -> None:
    job = left_without(yard)
    Shop.objects.filter(pk=yard.shop.pk).update(public_url="")
    answer = desk(yard).post(page(yard), {"job": [job.pk], "mail": "no"})
    text = answer.content.decode()
    assert text.count("public https address is not set") == 1
    assert "Put right first what stops every certificate" in text
    assert not CertificateBatch.objects.exists()


def test_own_vehicles_withdrawn_ones_and_open_jobs_without_a_day_do_not_stand_there(yard: Yard) -> None:
    withdrawn = left_without(yard, 1)
    actions.withdraw_certificate(
        certificate=issue_late(job=withdrawn, actor=yard.actor, now=NOW),
        reason="contract_undone", note="both agreed", actor=yard.actor, now=NOW,
    )  # fmt: skip
    Vehicle.objects.filter(pk=left_without(yard, 2).vehicle_id).update(owned="shop")
    yard.job(vehicle=yard.vehicle(vin="", vin_kind="none", plate="OPEN 3"), panels=("bonnet",))
    text = desk(yard).get(page(yard)).content.decode()
    assert "Every job has its certificate" in text


def test_an_installer_does_not_start_it_and_the_other_shop_never_sees_it(yard: Yard, world: Any) -> None:
    made = started(yard, left_without(yard))
    assert yard.people.client(yard.people.installer).get(page(yard)).status_code == 403
    theirs: ShopPeople = world.theirs
    address = reverse("certificate-batch", args=[theirs.shop.slug, made.pk])
    assert theirs.client(theirs.owner).get(address).status_code == 404


@pytest.mark.parametrize("name", ["issue-together", "certificate-batch"])
def test_a_page_of_fifty_asks_as_often_as_a_page_of_two(yard: Yard, name: str) -> None:
    first = left_without(yard, 0)
    made = started(yard, first)
    address = reverse(name, args=[yard.shop.slug, *([made.pk] if name == "certificate-batch" else [])])
    client = desk(yard)
    client.get(address)
    with CaptureQueriesContext(connection) as few:
        client.get(address)
    for nth in range(1, 12):
        BatchLine.objects.create(batch=made, job=left_without(yard, nth))
    with CaptureQueriesContext(connection) as many:
        assert client.get(address).content.count(b"row-three") == 12
    assert len(many) == len(few)


def test_one_issued_and_withdrawn_meanwhile_is_left_to_a_person(yard: Yard) -> None:
    """A contract undone for both sides is not promised anew by a list that still waits."""
    job = left_without(yard)
    made = started(yard, job, mail=True)
    there = issue_late(job=job, actor=yard.actor, now=NOW)
    values: dict[str, Any] = {
        "reason": "contract_undone",
        "note": "Sold back.",
        "actor": yard.actor,
        "now": NOW,
    }
    actions.withdraw_certificate(certificate=there, **values)
    batch.go_on(NOW)
    assert states(made) == ["refused"]
    assert "cannot be issued as the record stands" in made.lines.get().words
    assert Certificate.objects.get() == there
