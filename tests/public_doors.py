"""The pages with a form that are open without signing in, at addresses with tokens that are good."""

from collections.abc import Iterator
from datetime import datetime, timedelta

from django.contrib.auth.tokens import default_token_generator
from django.urls import reverse
from django.utils import timezone
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode

from shopwarranty.inspections.holder.links import holder_link
from shopwarranty.inspections.writing.stop_links import token_for
from shopwarranty.shops import bay
from shopwarranty.shops.actions import hashed
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Invitation
from shopwarranty.warranty.models import Certificate
from tests import builders
from tests.conftest import ShopPeople


def open_doors(people: ShopPeople, certificate: int) -> Iterator[tuple[str, str]]:
    """Name and address of each, with the shop's scope entered."""
    now = timezone.now()
    yield from ((name, reverse(name)) for name in ("sign-in", "forgot"))
    paper = Certificate.objects.get(pk=certificate)
    yield "holder-code", reverse("holder-code", args=[paper.number, paper.code])
    yield "holder-enter", reverse("holder-enter", args=[paper.number, paper.code])
    yield from doors_of_a_holder(now)
    yield from doors_of_people(people, now)


def doors_of_a_holder(now: datetime) -> Iterator[tuple[str, str]]:
    job = builders.a_job(handed_over_on=now.date() - timedelta(days=14))
    check = builders.a_check(job, due_on=now.date())
    party = job.vehicle.holdings.get().party
    token = holder_link(check, to=party, now=now).rstrip("/").rpartition("/")[2]
    panel = job.panels.get().panel
    yield "stop", reverse("stop", args=[token_for(party)])
    for name in ("holder", "holder-reminders", "holder-report-other"):
        yield name, reverse(name, args=[token])
    for name in ("holder-time", "holder-cancel"):
        yield name, reverse(name, args=[token, check.pk])
    yield "holder-report-panel", reverse("holder-report-panel", args=[token, panel])


def doors_of_people(people: ShopPeople, now: datetime) -> Iterator[tuple[str, str]]:
    Invitation.objects.create(
        email="somebody@kiln.example",
        token_hash=hashed("an invitation"),
        invited_at=now,
        expires_at=now + timedelta(days=1),
    )
    yield "join", reverse("join", args=["an invitation"])
    user = people.desk.user
    user.set_password("taken by the tests")
    user.save()
    who = urlsafe_base64_encode(force_bytes(user.pk))
    yield "welcome", reverse("welcome", args=[who, default_token_generator.make_token(user)])
    _device, token = bay.offer_device(name="Tablet", actor=Actor.of(people.owner), now=now)
    yield "bay-enrol", reverse("bay-enrol", args=[token])
