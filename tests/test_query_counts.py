"""A page asks the database as often in a shop of thousands of jobs as in a shop of ten."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from shopwarranty.defects.lives import rebuild_lives
from shopwarranty.defects.models import Defect
from shopwarranty.desk.handover import hand_over
from shopwarranty.films.models import Lot, Roll
from shopwarranty.inspections.actions import note_contact
from shopwarranty.inspections.models import Booking, Check, Visit
from shopwarranty.jobs.models import Job, PanelWork, Party, Vehicle
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Bay
from shopwarranty.warranty.models import Certificate, PlanVersion
from tests import builders as b
from tests.conftest import NOW, ShopPeople
from tests.many_copies import Copies
from tests.warranty.conftest import make_yard
from tests.warranty.conftest import plain_pdf as plain_pdf

FEW, MANY, VERY_MANY = 10, 300, 10_000


@dataclass(frozen=True, slots=True)
class Asked:
    """A page, and the most questions that it may ask; what signing in costs is part of it."""

    name: str
    most: int
    row: type[Any] | None = None
    question: str = ""

    def url(self, ids: dict[type[Any], int]) -> str:
        args = [] if self.row is None else [ids[self.row]]
        return reverse(self.name, args=["kiln", *args]) + self.question

    def __str__(self) -> str:
        return self.name + self.question


PAGES = (
    Asked("today", 12),
    Asked("jobs", 9),
    Asked("jobs", 9, question="?q=example"),
    Asked("checks", 10),
    Asked("checks", 10, question="?show=all"),
    Asked("checks", 10, question="?show=overdue&q=example"),
    Asked("week", 18),
    Asked("certificates", 8),
    Asked("certificates", 8, question="?q=KL"),
    Asked("films", 10),
    Asked("defects", 14),
    Asked("defects", 14, question="?state=&words=example"),
    Asked("review", 20),
    Asked("review-places", 20),
    Asked("messages", 9),
    Asked("history", 8),
    Asked("search", 12, question="?q=example"),
    Asked("search", 12, question="?q=7FN"),
    Asked("lot", 13, Lot),
    Asked("lot", 13, Lot, "?show=possible"),
    Asked("roll", 9, Roll),
    Asked("job", 22, Job),
    Asked("job-history", 28, Job),
    Asked("hand-over", 60, Job),
    Asked("hand-over-preview", 60, Job),
    Asked("panel", 26, PanelWork),
    Asked("vehicle", 13, Vehicle),
    Asked("party", 9, Party),
    Asked("certificate", 12, Certificate),
    Asked("plan-version", 9, PlanVersion),
    Asked("check", 10, Check),
    Asked("move-booking", 12, Booking),
    Asked("visit", 14, Visit),
    Asked("defect", 32, Defect),
)


@pytest.fixture
def ids(ours: ShopPeople, plain_pdf: None) -> dict[type[Any], int]:
    """One job that left, was checked and showed a defect, and one in the bay; their rows."""
    yard, desk = make_yard(ours), Actor.of(ours.desk)
    done = yard.job(panels=("bonnet", "left-front-door"))
    certificate = hand_over(job=done, actor=desk, now=NOW, reasons={"no_look": "waits"}).certificate
    assert certificate is not None
    b.looked_at(done, b.TODAY, {"window": 3})
    rebuild_lives()
    check = Check.objects.filter(job=done, state="due").earliest("due_on")
    note_contact(check=check, result="no_answer", actor=desk, now=NOW)
    Bay.objects.create(name="Bay 2", position=2)
    booking = b.a_booking(check, on=b.TODAY, lane=2)
    vehicle = yard.vehicle(plate="8GP 115", vin="0DEMXWRA1TF000124")
    here = yard.job(vehicle=vehicle, panels=("bonnet", "roof"), finished=("bonnet",))
    open_visit = b.a_visit(done, finished=False)
    return {
        Lot: Lot.objects.get(rolls=yard.rolls[0]).pk,
        Roll: yard.rolls[0].pk,
        Job: here.pk,
        PanelWork: here.panels.get(panel="roof").pk,
        Vehicle: done.vehicle_id,
        Party: certificate.holder_id,
        Certificate: certificate.pk,
        PlanVersion: certificate.plan_version_id,
        Check: check.pk,
        Booking: booking.pk,
        Visit: open_visit.pk,
        Defect: Defect.objects.get().pk,
    }


def counted(client: Client, ids: dict[type[Any], int]) -> dict[str, int]:
    return dict(each_count(client, ids))


def each_count(client: Client, ids: dict[type[Any], int]) -> Iterator[tuple[str, int]]:
    for page in PAGES:
        url = page.url(ids)
        client.get(url)  # what is worked out once a process or once a day is not the page's
        with CaptureQueriesContext(connection) as asked:
            assert client.get(url).status_code == 200, url
        yield str(page), len(asked)
    yield "public-certificate", public_count(ids)


def public_count(ids: dict[type[Any], int]) -> int:
    certificate = Certificate.objects.get(pk=ids[Certificate])
    url = reverse("public-certificate", args=[certificate.number, certificate.code])
    with CaptureQueriesContext(connection) as asked:
        assert Client().get(url).status_code == 200
    return len(asked)


def held_to(few: dict[str, int], many: dict[str, int], most: dict[str, int]) -> None:
    grown = {page: (few[page], many[page]) for page in few if many[page] != few[page]}
    above = {page: (many[page], most[page]) for page in many if many[page] > most[page]}
    assert (grown, above) == ({}, {})


MOST = {str(page): page.most for page in PAGES} | {"public-certificate": 3}


@pytest.mark.parametrize(
    "number", [MANY, pytest.param(VERY_MANY, marks=pytest.mark.long)], ids=lambda number: f"{number} jobs"
)
def test_pages_ask_as_often_however_many_jobs_there_are(
    ours: ShopPeople, ids: dict[type[Any], int], number: int
) -> None:
    client, copies = ours.client(ours.owner), Copies()
    copies.grow_to(FEW)
    few = counted(client, ids)
    copies.grow_to(number)
    many = counted(client, ids)
    print("\n" + "\n".join(f"{many[page]:3} {page}" for page in many))
    held_to(few, many, MOST)


def test_a_page_that_asks_once_a_row_would_be_found() -> None:
    with pytest.raises(AssertionError, match="jobs"):
        held_to({"jobs": 8}, {"jobs": 9}, {"jobs": 12})
    with pytest.raises(AssertionError, match="jobs"):
        held_to({"jobs": 13}, {"jobs": 13}, {"jobs": 12})
