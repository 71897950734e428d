"""Several people hand over the same vehicle at the same moment: one certificate in force, one mail."""

from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest

from shopwarranty.desk.batch import go_on, start_batch
from shopwarranty.desk.handover import HandedOver, hand_over
from shopwarranty.desk.models import BatchLine
from shopwarranty.inspections.models import Check
from shopwarranty.jobs.models import Job
from shopwarranty.outbox.models import Message
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Member, Shop
from shopwarranty.shops.scope import shop_scope
from shopwarranty.warranty import actions
from shopwarranty.warranty.models import Certificate
from tests.conftest import NOW, make_shop
from tests.many_copies import Copies
from tests.many_hands import at_once, elsewhere
from tests.warranty.conftest import TODAY, make_yard

pytestmark = [
    pytest.mark.postgres,
    pytest.mark.xdist_group("many hands"),
    pytest.mark.usefixtures("plain_pdf"),
]
CLIENTS = 8
UNSEEN = {"no_look": "the owner waits"}


@pytest.fixture
def made(shared_database: None) -> tuple[Shop, Job]:
    def make() -> tuple[Shop, Job]:
        people = make_shop(
            "race", name="Race Lane Film", street="1 Race Lane", town="Example City",
            public_url="https://race.example", time_zone="America/New_York", legal_profile="us",
        )  # fmt: skip
        with shop_scope(people.shop):
            return people.shop, make_yard(people).job(panels=("bonnet",))

    return elsewhere(make)


def inside(shop: Shop, act: Callable[..., Any], **more: Any) -> Callable[[], Any]:
    def run() -> Any:
        with shop_scope(shop):
            return act(actor=Actor.of(Member.objects.get(is_owner=True)), now=NOW, **more)

    return run


def test_E48_eight_people_at_once_hand_over_once(made: tuple[Shop, Job]) -> None:
    shop, job = made
    results = at_once([inside(shop, hand_over, job=job, reasons=UNSEEN) for _ in range(CLIENTS)])
    assert [type(result) for result in results] == [HandedOver] * CLIENTS, results
    assert len({result.certificate.pk for result in results}) == 1
    assert sum(not result.again for result in results) == 1

    def counted() -> tuple[int, int, bool]:
        with shop_scope(shop):
            two_weeks = Check.objects.filter(job=job, plan__key="two-week").count()
            return Certificate.objects.count(), Message.objects.count(), two_weeks == 1

    assert elsewhere(counted) == (1, 1, True)


def test_of_several_withdrawals_at_once_one_wins(made: tuple[Shop, Job]) -> None:
    shop, job = made
    done = elsewhere(inside(shop, hand_over, job=job, reasons=UNSEEN))
    why = {"reason": "issued_in_error", "note": "wrong vehicle"}
    acts = [
        inside(shop, actions.withdraw_certificate, certificate=done.certificate, **why)
        for _ in range(CLIENTS)
    ]
    results = at_once(acts)
    assert sorted(type(result).__name__ for result in results) == ["NoneType"] + ["NotInForce"] * (
        CLIENTS - 1
    )


def test_passes_of_the_worker_at_once_issue_each_certificate_once(made: tuple[Shop, Job]) -> None:
    shop, first = made

    def asked_for() -> None:
        with shop_scope(shop):
            jobs = [first.pk, *(copied.pk for copied in left_without(first))]
            desk = Actor.of(Member.objects.get(is_owner=True))
            start_batch(jobs=jobs, mail=True, actor=desk, now=NOW, uid=uuid4())

    elsewhere(asked_for)
    results = at_once([lambda: go_on(NOW) for _ in range(CLIENTS // 2)])
    assert sum(results) == 4, results

    def counted() -> tuple[int, int, list[str]]:
        with shop_scope(shop):
            states = list(BatchLine.objects.values_list("state", flat=True))
            return Certificate.objects.count(), Message.objects.count(), states

    assert elsewhere(counted) == (4, 4, ["issued"] * 4)


def left_without(job: Job) -> list[Job]:
    """Three more like it; all of them handed over, and none with a certificate."""
    Job.objects.filter(pk=job.pk).update(state="handed_over", handed_over_at=NOW, handed_over_on=TODAY)
    Copies().grow_to(3)
    return list(Job.objects.exclude(pk=job.pk))
