"""Every address of the program as a stranger, as another shop's owner and as each role.

A new address fails until it is listed here: pages of a shop by what row they show, pages for strangers with
the reason they are open.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest
from django.conf import settings
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from shopwarranty.defects.models import Defect, ShopDefectKind
from shopwarranty.films.models import Cut
from shopwarranty.jobs.actions import add_usual_method
from shopwarranty.jobs.models import (
    Deviation,
    LayingEvent,
    Photo,
    Reading,
    RemovedItem,
    ShopField,
    ShopPanel,
    ShopPlace,
)
from shopwarranty.outbox.actions import put_message
from shopwarranty.shops.access import ROLES_OF
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import ClosedDay, Invitation
from shopwarranty.shops.scope import shop_scope
from shopwarranty.shops.stored_bytes import keep
from tests import builders
from tests.conftest import NOW, ShopPeople, World
from tests.warranty.conftest import make_yard

# Open to strangers, and why.
OPEN = {
    "home": "sends to sign-in",
    "sign-in": "has to be",
    "sign-out": "acts on one's own session",
    "welcome": "the token is the key",
    "join": "the token is the key",
    "forgot": "has to be",
    "forgot-sent": "has to be",
    "theme": "a choice of colours for this device",
    "health": "says only whether the worker is alive",
    "public-find": "number and code are the key",
    "public-number": "says only that the code is needed",
    "public-certificate": "number and code are the key; no personal data",
}

# Which row a page of a shop shows: the name of an attribute of Rows.
SHOWS = {
    "film": "product",
    "invitation-withdraw": "invitation",
    "lot": "lot",
    "lot-quarantine": "lot",
    "measure-roll": "roll",
    "member": "member",
    "member-back": "member",
    "member-leaves": "member",
    "message": "message",
    "message-again": "message",
    "message-aside": "message",
    "open-day": "closed_day",
    "roll": "roll",
    "roll-label": "roll",
    "cut-planner": "roll",
    "finish-roll": "roll",
    "job": "job",
    "choose-panels": "job",
    "job-method": "job",
    "job-details": "job",
    "job-work": "job",
    "job-ready": "job",
    "job-session": "job",
    "job-history": "job",
    "job-readings": "job",
    "dew-point": "job",
    "job-card": "job",
    "job-photos": "job",
    "panel": "panel",
    "confirm-panel": "panel",
    "unconfirm-panel": "panel",
    "finish-panel": "panel",
    "reopen-panel": "panel",
    "drop-panel": "panel",
    "panel-film": "panel",
    "new-piece": "panel",
    "panel-work": "panel",
    "panel-intake": "panel",
    "panel-events": "panel",
    "reading": "reading",
    "settle-item": "removed",
    "take-back-event": "laying_event",
    "place": "place",
    "as-usual-again": "place",
    "undo-deviation": "deviation",
    "vehicle": "vehicle",
    "change-vehicle": "vehicle",
    "vehicle-plate": "vehicle",
    "vehicle-holder": "vehicle",
    "start-job": "vehicle",
    "party": "party",
    "photo": "photo",
    "photo-move": "photo",
    "photo-aside": "photo",
    "new-method-version": "method",
    "method-retire": "method",
    "method-version": "method_version",
    "field-retire": "shop_field",
    "retire-own-panel": "shop_panel",
    "retire-own-place": "shop_place",
    "check": "check",
    "book-check": "check",
    "note-call": "check",
    "check-aside": "check",
    "check-again": "check",
    "move-booking": "booking",
    "cancel-booking": "booking",
    "booking-not-kept": "booking",
    "start-visit": "check",
    "start-look": "job",
    "start-handover-look": "job",
    "visit": "visit",
    "visit-go-on": "visit",
    "visit-finish": "visit",
    "visit-drop": "visit",
    "not-ours": "visit",
    "check-panel": "visit",
    "sweep-undo": "visit",
    "place-unrecorded": "visit",
    "correct-finding": "finding",
    "defect": "defect",
    "judge-cause": "defect",
    "verify-defect": "defect",
    "record-remedy": "defect",
    "defect-photos": "defect",
    "place-story": "place",
    "defect-kind-retire": "defect_kind",
    "certificate": "certificate",
    "certificate-pdf": "certificate",
    "certificate-send": "certificate",
    "certificate-replace": "certificate",
    "certificate-withdraw": "certificate",
    "plan-edit": "plan",
    "plan-standing": "plan",
    "plan-version": "plan_version",
    "plan-version-pdf": "plan_version",
    "plan-publish": "plan_version",
    "hand-over": "job",
    "hand-over-preview": "job",
    "hand-over-look": "job",
    "hand-over-look-clean": "job",
    "handed-over": "job",
}
# The second row an address names.
ALSO_SHOWS = {
    "hand-over-look-clean": "panel",
    "check-panel": "panel",
    "sweep-undo": "panel",
    "place-unrecorded": "panel",
}


# What else an address says beside the row.
SAYS_MORE = {"photo": ("small",)}


@dataclass(frozen=True, slots=True)
class Page:
    name: str
    arguments: tuple[str, ...]
    view: Any


def every_page(patterns: Any = None, before: tuple[str, ...] = ()) -> Iterator[Page]:
    for each in patterns or get_resolver().url_patterns:
        names = before + tuple(each.pattern.converters)
        if isinstance(each, URLResolver):
            if str(each.pattern) != f"{settings.ADMIN_PATH}/":
                yield from every_page(each.url_patterns, names)
        elif isinstance(each, URLPattern):
            assert each.name, f"{each.pattern} has no name"
            yield Page(each.name, names, each.callback)


PAGES = list(every_page())
OF_SHOP = [page for page in PAGES if "shop" in page.arguments]


@dataclass(frozen=True, slots=True)
class Rows:
    """One row of each kind in our shop."""

    product: int
    lot: int
    roll: int
    cut: int
    member: int
    invitation: int
    closed_day: int
    message: int
    job: int
    vehicle: int
    panel: int
    place: int
    deviation: int
    reading: int
    removed: int
    laying_event: int
    party: int
    photo: int
    method: int
    method_version: int
    shop_field: int
    shop_panel: int
    shop_place: int
    check: int
    booking: int
    visit: int
    finding: int
    defect: int
    defect_kind: int
    certificate: int
    plan: int
    plan_version: int


def rows_of(people: ShopPeople) -> Rows:
    job = builders.a_job(handed_over_on=builders.days_ago(14))
    lot = job.panels.get().pieces.get().lot
    roll = builders.a_roll(lot)
    cut = Cut.objects.create(roll=roll, kind="offcut", along_mm=100, cut_at=NOW)
    invitation = Invitation.objects.create(
        email="x@kiln.example", token_hash="0" * 64, invited_at=NOW, expires_at=NOW
    )
    message = put_message(key="walk", to="owner1@example.com", subject="Walk", text="Walk", now=NOW)
    panel = job.panels.get()
    place = panel.pieces.get().places.first()
    assert place is not None
    version = add_usual_method(actor=Actor.of(people.owner), now=NOW)
    photo = Photo.objects.create(
        vehicle=job.vehicle,
        job=job,
        stage="intake",
        sha256=keep(b"a picture").sha256,
        length=9,
        original_sha256="0" * 64,
        width=1,
        height=1,
        added_at=NOW,
    )
    looked = builders.looked_at(job, builders.TODAY, {"window": 3})
    booking = builders.a_booking(builders.a_check(job))
    certificate = make_yard(people).issue()
    return Rows(
        certificate=certificate.pk,
        plan=certificate.plan_version.plan_id,
        plan_version=certificate.plan_version_id,
        check=booking.check_due_id,
        booking=booking.pk,
        visit=builders.a_visit(job, finished=False).pk,
        finding=looked.findings.earliest("pk").pk,
        defect=Defect.objects.get().pk,
        defect_kind=ShopDefectKind.objects.create(key="own-kind", name="Own kind").pk,
        panel=panel.pk,
        place=place.pk,
        deviation=Deviation.objects.create(job=job, panel_work=panel, place=place, field="passes", at=NOW).pk,
        reading=Reading.objects.create(job=job, at=NOW, entered_at=NOW).pk,
        removed=RemovedItem.objects.create(panel_work=panel, name="badge").pk,
        laying_event=LayingEvent.objects.create(panel_work=panel, kind="needle").pk,
        party=job.vehicle.holdings.get().party.pk,
        photo=photo.pk,
        method=version.method.pk,
        method_version=version.pk,
        shop_panel=ShopPanel.objects.create(key="own-y", name="y", edges=["a"]).pk,
        shop_place=ShopPlace.objects.create(panel="roof", key="own-z", name="z", kind="edge").pk,
        shop_field=ShopField.objects.create(key="own-x", name="x", level="job", kind="yes_no").pk,
        product=lot.product.pk,
        lot=lot.pk,
        roll=roll.pk,
        cut=cut.pk,
        member=people.desk.pk,
        invitation=invitation.pk,
        closed_day=ClosedDay.objects.create(on="2026-12-25").pk,
        message=message.pk,
        job=job.pk,
        vehicle=job.vehicle.pk,
    )


def address(page: Page, shop: str, rows: Rows) -> str:
    more = [getattr(rows, SHOWS[page.name])] if len(page.arguments) > 1 else []
    if page.name in ALSO_SHOWS:
        more.append(getattr(rows, ALSO_SHOWS[page.name]))
    return reverse(page.name, args=[shop, *more, *SAYS_MORE.get(page.name, ())])


def test_every_address_is_in_the_walk() -> None:
    unknown = {page.name for page in PAGES if "shop" not in page.arguments} - set(OPEN)
    assert not unknown, f"open to strangers without a reason: {sorted(unknown)}"
    unlisted = {page.name for page in OF_SHOP if len(page.arguments) > 1} - set(SHOWS)
    assert not unlisted, f"say which row they show: {sorted(unlisted)}"


def test_every_page_of_a_shop_says_who_may_open_it() -> None:
    assert [page.name for page in OF_SHOP if not getattr(page.view, ROLES_OF, None)] == []


@pytest.fixture
def rows(world: World) -> Rows:
    with shop_scope(world.ours.shop):
        return rows_of(world.ours)


def test_a_stranger_is_sent_to_sign_in_from_every_page_of_a_shop(world: World, rows: Rows) -> None:
    for page in OF_SHOP:
        for method in ("get", "post"):
            answer = getattr(Client(), method)(address(page, world.ours.shop.slug, rows))
            assert (answer.status_code, answer["Location"][:9]) == (302, "/sign-in/"), page.name


def test_another_shops_owner_finds_neither_our_pages_nor_our_rows(world: World, rows: Rows) -> None:
    client = world.theirs.client(world.theirs.owner)
    tried = 0
    for page in OF_SHOP:
        for method in ("get", "post"):
            ask = getattr(client, method)
            assert ask(address(page, world.ours.shop.slug, rows)).status_code == 404, page.name
            tried += 1
            if len(page.arguments) > 1:
                answer = ask(address(page, world.theirs.shop.slug, rows))
                assert answer.status_code in (404, 405), f"{method} {page.name}: {answer.status_code}"
                tried += 1
    print(f"\n{tried} requests of another shop's owner, 0 leaks")


def test_each_role_opens_exactly_what_it_may(world: World, rows: Rows) -> None:
    for role in ("owner", "installer", "desk"):
        client = world.ours.client(getattr(world.ours, role))
        for page in OF_SHOP:
            status = client.get(address(page, world.ours.shop.slug, rows)).status_code
            allowed = role in getattr(page.view, ROLES_OF)
            assert status in ((200, 302, 405) if allowed else (403,)), f"{role} {page.name}: {status}"
