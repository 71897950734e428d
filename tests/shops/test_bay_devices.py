"""Devices of the bay: enrolled once, switched by picture and PIN, for recording and checking alone."""

import re
import time
from datetime import timedelta
from typing import Any

import pytest
from axes.models import AccessAttempt
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from shopwarranty.inspections.models import Visit
from shopwarranty.jobs.models import Reading
from shopwarranty.shops import bay
from shopwarranty.shops.models import BayDevice, Change, Member
from tests.bay_device import PIN, client_at, enrolled, with_pin
from tests.conftest import ShopPeople
from tests.jobs.conftest import Bench
from tests.jobs.conftest import bench as bench

HOME, DOOR = "/s/kiln/bay/", "/bay/"


@pytest.fixture
def now() -> Any:
    return timezone.now()


def offered_address(owner: Client) -> str:
    page = owner.post(reverse("bay-devices", args=["kiln"]), {"name": "Tablet, bay 2"}).content.decode()
    found = re.search(r"http://testserver(/bay/enrol/[^\"]+)", page)
    assert found
    return found[1]


def test_an_address_enrols_one_device_once_and_signs_out_whoever_was_signed_in(ours: ShopPeople) -> None:
    address = offered_address(ours.client(ours.owner))
    tablet, other = ours.client(ours.owner), Client()
    assert tablet.get(address).status_code == 200
    assert BayDevice.objects.get().used_since is None  # opening the address changes nothing
    answer = tablet.post(address)
    assert answer["Location"] == DOOR
    assert answer.cookies[bay.COOKIE]["httponly"]
    assert tablet.get("/s/kiln/")["Location"] == DOOR
    assert other.post(address).status_code == 404
    assert (
        "Tablet, bay 2" in ours.client(ours.owner).get(reverse("bay-devices", args=["kiln"])).content.decode()
    )


def test_an_address_that_is_half_an_hour_old_enrols_nothing(ours: ShopPeople) -> None:
    address = offered_address(ours.client(ours.owner))
    BayDevice.objects.update(enrolled_at=timezone.now() - timedelta(minutes=31))
    assert Client().post(address).status_code == 404


def test_a_member_switches_by_picture_and_pin_and_the_record_names_member_and_device(
    bench: Bench, ours: ShopPeople, now: Any
) -> None:
    device, key = enrolled(ours.owner, now)
    with_pin(ours.installer)
    tablet, job = Client(), bench.job()
    tablet.cookies[bay.COOKIE] = key
    assert "Installer of kiln" in tablet.get(DOOR).content.decode()
    assert "Owner of kiln" not in tablet.get(DOOR).content.decode()  # has no PIN
    address = reverse("bay-switch", args=[ours.installer.pk])
    assert "not right" in tablet.post(address, {"pin": "000000"}).content.decode()
    assert tablet.post(address, {"pin": PIN})["Location"] == HOME
    tablet.post(reverse("job-readings", args=["kiln", job.pk]), {"air": "70"})
    assert Reading.objects.get().member == ours.installer
    change = Change.objects.filter(act="reading").get()
    assert (change.member, change.device) == (ours.installer, device)


def test_the_pin_cannot_be_guessed_at_leisure(ours: ShopPeople, now: Any) -> None:
    """Eight wrong ones, as with passwords; then not even the right one."""
    _device, key = enrolled(ours.owner, now)
    with_pin(ours.installer)
    tablet = Client()
    tablet.cookies[bay.COOKIE] = key
    address = reverse("bay-switch", args=[ours.installer.pk])
    for guess in range(8):
        tablet.post(address, {"pin": f"10000{guess}"})
    assert tablet.post(address, {"pin": PIN}).status_code == 429


def test_another_address_on_the_network_is_no_new_try(ours: ShopPeople, now: Any) -> None:
    """Whoever took a tablet along may change networks as often as they like."""
    _device, key = enrolled(ours.owner, now)
    with_pin(ours.installer)
    address = reverse("bay-switch", args=[ours.installer.pk])
    for guess in range(8):
        thief = Client(REMOTE_ADDR=f"198.51.100.{guess}")  # RFC 5737: addresses for examples
        thief.cookies[bay.COOKIE] = key
        thief.post(address, {"pin": f"10000{guess}"})
    tablet = Client(REMOTE_ADDR="198.51.100.99")
    tablet.cookies[bay.COOKIE] = key
    assert tablet.post(address, {"pin": PIN}).status_code == 429


def test_pins_typed_wrong_are_not_kept(ours: ShopPeople, now: Any) -> None:
    """One digit off, it says what the right one is; and it may be the right one of somebody else."""
    _device, key = enrolled(ours.owner, now)
    with_pin(ours.installer)
    tablet = Client()
    tablet.cookies[bay.COOKIE] = key
    tablet.post(reverse("bay-switch", args=[ours.installer.pk]), {"pin": "402918"})
    assert "402918" not in str(list(AccessAttempt.objects.values()))


def test_on_the_device_an_owner_records_and_checks_and_nothing_more(
    bench: Bench, ours: ShopPeople, now: Any
) -> None:
    tablet, job = client_at(ours.owner, ours.owner, now), bench.front(("bonnet",))
    assert tablet.get(HOME).status_code == 200
    assert tablet.get(reverse("job", args=["kiln", job.pk])).status_code == 200
    assert tablet.get(reverse("panel", args=["kiln", job.panels.get().pk])).status_code == 200
    for name in (
        "today",
        "jobs",
        "certificates",
        "claims",
        "members",
        "shop-settings",
        "export-jobs",
        "account",
    ):
        assert tablet.get(reverse(name, args=["kiln"])).status_code == 403, name
    assert tablet.get(reverse("vehicle", args=["kiln", job.vehicle_id])).status_code == 403
    assert tablet.get(reverse("hand-over", args=["kiln", job.pk])).status_code == 403
    assert tablet.get("/operator/").status_code == 302


def test_no_page_of_the_bay_leads_where_the_device_may_not_go(
    bench: Bench, ours: ShopPeople, now: Any
) -> None:
    tablet, job = client_at(ours.owner, ours.owner, now), bench.front(("bonnet",))
    pages = [
        HOME,
        reverse("job", args=["kiln", job.pk]),
        reverse("panel", args=["kiln", job.panels.get().pk]),
    ]
    pages += [reverse(name, args=["kiln", job.pk]) for name in ("job-readings", "job-photos", "job-work")]
    for page in pages:
        links = set(re.findall(r'(?:href)="(/s/kiln/[^"?#]*)', tablet.get(page).content.decode()))
        shut = {link for link in links if tablet.get(link).status_code == 403}
        assert not shut, f"{page}: {sorted(shut)}"


def test_the_device_shows_no_holder(bench: Bench, ours: ShopPeople, now: Any) -> None:
    from shopwarranty.jobs import actions

    party = actions.add_party(name="Prue Holder-Example", actor=bench.actor, now=now)
    actions.hold_vehicle(
        vehicle=bench.vehicle, party=party, role="holder", since=now.date(), actor=bench.actor, now=now
    )
    job = bench.front(("bonnet",))
    page = reverse("job", args=["kiln", job.pk])
    assert "Prue Holder-Example" in ours.client(ours.owner).get(page).content.decode()
    tablet = client_at(ours.owner, ours.owner, now)
    for address in (page, HOME, reverse("job-photos", args=["kiln", job.pk])):
        assert "Prue Holder-Example" not in tablet.get(address).content.decode()


def test_an_end_of_a_visit_leads_back_to_the_bay_and_shows_no_signature(
    bench: Bench, ours: ShopPeople, now: Any
) -> None:
    tablet, job = client_at(ours.owner, ours.owner, now), bench.front(("bonnet",))
    looked = {
        "job": job,
        "origin": "planned",
        "started_at": now,
        "happened_on": now.date(),
        "entered_at": now,
    }
    look = Visit.objects.create(**looked, is_handover_look=True)
    assert tablet.post(reverse("visit-drop", args=["kiln", look.pk]))["Location"] == HOME
    over = Visit.objects.create(**looked, state="finished", finished_at=now, signed_name="Prue Example")
    sent = {"note": "", "signed_name": "x" * 200}  # too long: the page comes again, with what is wrong
    answer = tablet.post(reverse("visit-finish", args=["kiln", over.pk]), sent, follow=True)
    assert answer.redirect_chain[-1][0] == HOME
    assert "Prue Example" not in answer.content.decode()


def test_a_revoked_device_opens_nothing(ours: ShopPeople, now: Any) -> None:
    tablet = client_at(ours.owner, ours.installer, now)
    assert tablet.get(HOME).status_code == 200
    device = BayDevice.objects.get()
    ours.client(ours.owner).post(reverse("bay-device-revoke", args=["kiln", device.pk]))
    assert tablet.get(HOME)["Location"].startswith("/sign-in/")
    assert tablet.get(DOOR).status_code == 404


def test_whoever_leaves_the_tablet_lying_is_gone_after_half_an_hour(ours: ShopPeople, now: Any) -> None:
    tablet = client_at(ours.owner, ours.installer, now)
    session = tablet.session
    session[bay.WORKING] = [*session[bay.WORKING][:2], time.time() - 31 * 60]
    session.save()
    assert tablet.get(HOME)["Location"] == DOOR


def test_a_member_who_left_the_shop_and_a_copied_session_open_nothing(ours: ShopPeople, now: Any) -> None:
    tablet, thief = client_at(ours.owner, ours.installer, now), Client()
    thief.cookies["sessionid"] = tablet.cookies["sessionid"].value
    assert thief.get(HOME)["Location"].startswith("/sign-in/")  # without the device's own key
    Member.objects.filter(pk=ours.installer.pk).update(left_at=now)
    assert tablet.get(HOME)["Location"] == DOOR


@pytest.mark.parametrize("pin", ["111111", "123456", "654321", "12345", "abcdef"])
def test_a_pin_that_anybody_would_try_first_is_refused(ours: ShopPeople, pin: str) -> None:
    client = ours.client(ours.installer)
    client.post(reverse("bay-pin", args=["kiln"]), {"picture": "wave", "pin": pin, "again": pin})
    assert Member.objects.get(pk=ours.installer.pk).pin_hash == ""


def test_only_the_hash_of_a_pin_is_kept(ours: ShopPeople) -> None:
    client = ours.client(ours.installer)
    client.post(reverse("bay-pin", args=["kiln"]), {"picture": "wave", "pin": PIN, "again": PIN})
    stored = Member.objects.get(pk=ours.installer.pk)
    assert stored.pin_hash.startswith("argon2")
    assert stored.bay_picture == "wave"
    assert PIN not in str(Change.objects.filter(act="PIN set").values_list())
