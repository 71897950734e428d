"""The shop of the fault rounds, and the reckoning: of every act, what was acknowledged and what is there."""

from collections import Counter
from dataclasses import dataclass, field
from datetime import date, time, timedelta
from pathlib import Path
from typing import Any

from django.test import Client
from django.utils import timezone

from shopwarranty.inspections.actions import add_usual_check_plans, start_visit
from shopwarranty.inspections.models import Check, CheckPlan, CheckRules, Finding, Visit
from shopwarranty.jobs.models import Job, PanelWork
from shopwarranty.outbox.models import Message
from shopwarranty.shops.history import Actor
from shopwarranty.shops.scope import shop_scope
from shopwarranty.shops.stored_bytes import read
from shopwarranty.warranty.models import Certificate, ReasonGiven
from tests import builders as b
from tests.bench.killed_shop import SOON, Tally, Wish, of_bookings, of_messages, shown_to_staff
from tests.conftest import make_shop
from tests.rules import broken
from tests.warranty.conftest import make_yard

PANEL = "bonnet"
JOBS, VISITS = 2, 3
"""A round."""


@dataclass(frozen=True, slots=True)
class Look:
    """A visit's one panel: the first of its places has a crease, the others are clean."""

    visit: int
    panel: int
    places: tuple[int, ...]


@dataclass(slots=True)
class Said:
    """What the web server acknowledged, by the id of what it is about."""

    handed_over: set[int] = field(default_factory=set)
    looked_at: set[int] = field(default_factory=set)
    wishes: dict[int, Wish] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Work:
    """What there is to do, and the cookie of whoever does it."""

    people: Any
    cookie: str
    jobs: list[int]
    checks: list[int]
    looks: list[Look]


def make_shop_at_work(rounds: int) -> Work:
    people = make_shop(
        "acts", name="Kiln Lane Film", legal_name="Kiln Lane Film LLC", street="4 Kiln Lane",
        town="Example City, EX 00000", country="US", telephone="555-0100", email="desk@kiln.example",
        public_url="https://kiln.example", time_zone="America/New_York", legal_profile="us",
    )  # fmt: skip
    now = timezone.now()
    with shop_scope(people.shop):
        add_usual_check_plans(people.shop)
        CheckRules.objects.create(send_from=time(0), send_until=time(23, 59, 59, 999999))
        yard, actor = make_yard(people), Actor.of(people.owner)
        jobs = [
            yard.job(vehicle=yard.vehicle(plate=f"7FN {n:03d}", vin="", vin_kind="none"), panels=(PANEL,)).pk
            for n in range(rounds * JOBS)
        ]
        plan, handed_over_on = CheckPlan.objects.get(key="two-week"), now.date() - timedelta(days=14)
        older = [b.a_job(panels=(PANEL,), handed_over_on=handed_over_on) for _ in range(rounds * VISITS)]
        checks = [b.a_check(job, plan=plan, due_on=now.date() + timedelta(days=4)).pk for job in older]
        looks = [a_look(job, actor, now) for job in older]
    return Work(people, cookie_of(people.owner), jobs, checks, looks)


def a_look(job: Job, actor: Actor, now: Any) -> Look:
    visit = start_visit(
        job=job, origin=Visit.Origin.WALK_IN, actor=actor, now=now, today=timezone.localdate(now)
    )
    places = tuple(place.pk for place in b.places_of(job))
    return Look(visit.pk, PanelWork.objects.get(job=job).pk, places)


def cookie_of(member: Any) -> str:
    client = Client()
    client.force_login(member.user)
    return client.cookies["sessionid"].value


def times_wanted(today: date) -> list[str]:
    days = (today + timedelta(days=n) for n in range(SOON, SOON + 10))
    return [
        f"{day:%Y-%m-%d}T{hour:02}:{minute:02}/1"
        for day in days
        if day.weekday() < 5
        for hour in range(8, 16)
        for minute in (0, 15, 30, 45)
    ]


def reckon(work: Work, said: Said, mails: Path) -> Tally:
    taken = Counter(mails.read_text().split()) if mails.exists() else Counter[str]()
    tally = Tally()
    with shop_scope(work.people.shop):
        of_messages(tally, taken)
        of_bookings(tally, said.wishes)
        of_certificates(tally, work, said)
        of_findings(tally, work, said)
        tally.wrong += shown_to_staff(work.people)
    tally.wrong += broken()
    return tally


def of_certificates(tally: Tally, work: Work, said: Said) -> None:
    """A job is handed over with one certificate, its paper, its mail and its checks, or with nothing."""
    jobs = Job.objects.filter(pk__in=work.jobs)
    handed = {job.pk for job in jobs if job.state == Job.State.HANDED_OVER}
    papers = Counter(Certificate.objects.values_list("job", flat=True))
    plans = Counter(Check.objects.filter(job__in=work.jobs).values_list("job", "plan"))
    checks = Counter(job for job, _plan in plans)
    reasons = Counter(ReasonGiven.objects.values_list("job", flat=True))
    keys = set(Message.objects.values_list("key", flat=True))
    tally.counts |= {"handed_over": len(handed), "certificates": papers.total()}
    tally.counts |= {"acknowledged": len(said.handed_over)}
    tally.wrong += [f"job {pk} was acknowledged and is not handed over" for pk in said.handed_over - handed]
    tally.wrong += [f"job {pk} has {papers[pk]} certificates" for pk in handed if papers[pk] != 1]
    tally.wrong += [f"job {pk} has {reasons[pk]} reasons" for pk in handed if reasons[pk] != 1]
    tally.wrong += [f"job {pk} has no checks" for pk in handed if not checks[pk]]
    tally.wrong += [f"check {pair} was planned {n} times" for pair, n in plans.items() if n > 1]
    begun = (papers.keys() | checks.keys() | reasons.keys()) - handed
    tally.wrong += [f"job {pk} is open and half handed over" for pk in begun]
    for paper in Certificate.objects.all():
        read(paper.pdf_sha256)  # raises when a byte of it is missing
        if f"certificate:{paper.pk}:issued" not in keys:
            tally.wrong.append(f"certificate {paper.number} was never told of")


def of_findings(tally: Tally, work: Work, said: Said) -> None:
    """Of a panel everything that was said is there once, or nothing of it."""
    rows = Finding.objects.filter(visit__in=[look.visit for look in work.looks])
    found = {(row.visit_id, row.place_id): row for row in rows.prefetch_related("sightings")}
    tally.counts |= {"findings": len(rows), "panels_acknowledged": len(said.looked_at)}
    if len(found) != len(rows):
        tally.wrong.append(f"{len(rows) - len(found)} findings stand twice")
    for look in work.looks:
        there = [found[look.visit, place] for place in look.places if (look.visit, place) in found]
        results = [row.result for row in there]
        if not results and look.visit not in said.looked_at:
            continue
        if results != ["defect", *["clean"] * (len(look.places) - 1)]:
            tally.wrong.append(f"visit {look.visit} says {results}")
        elif there[0].sightings.count() != 1:
            tally.wrong.append(f"visit {look.visit} saw its defect {there[0].sightings.count()} times")
