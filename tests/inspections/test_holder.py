"""The holder's own page: what its address opens and to whom nothing, a time picked, moved, called off."""

import re
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from shopwarranty.inspections.holder import door, links
from shopwarranty.inspections.holder.links import Scope, holder_link, holder_links, revoke_links
from shopwarranty.inspections.models import AskedOften, Booking, Check
from shopwarranty.jobs.models import HolderLink, Holding, Party
from shopwarranty.outbox.models import Message
from shopwarranty.shops.models import Change, Shop
from shopwarranty.shops.scope import shop_scope
from tests import builders as b
from tests.conftest import World


@pytest.fixture
def now(monkeypatch: pytest.MonkeyPatch) -> datetime:
    monkeypatch.setattr(timezone, "now", lambda: b.NOW)
    return b.NOW


def path_of(address: str) -> str:
    """The path of an address as it stands in a mail."""
    return address.removeprefix("https://kiln.example").removeprefix("https://fennel.example")


def holder_of(check: Check) -> Party:
    party: Party = check.job.vehicle.holdings.get(role="holder").party
    return party


def link_to(check: Check, to: Party | None = None) -> str:
    return path_of(holder_link(check, to=to or holder_of(check), now=b.NOW))


def text_of(answer: Any) -> str:
    words = re.sub(r"<[^>]+>", " ", answer.content.decode())
    return " ".join(words.replace("\u00a0", " ").replace("&nbsp;", " ").split())


def first_slot(answer: Any) -> str:
    found = re.search(r'name="slot" value="([^"]+)"', answer.content.decode())
    assert found
    return found.group(1)


def booked(check: Check) -> Booking:
    found: Booking = check.bookings.get(state=Booking.State.BOOKED)
    return found


# --- the address


def test_only_the_hash_of_a_token_is_kept(ours: Any) -> None:
    address = holder_link(b.a_check(), to=holder_of(Check.objects.get()), now=b.NOW)
    token = address.rstrip("/").rsplit("/", 1)[-1]
    row = HolderLink.objects.get()
    stored = [str(getattr(row, each.attname)) for each in HolderLink._meta.concrete_fields]
    assert not any(token in value for value in stored)
    assert len(token) == 43  # 32 bytes: 122 random bits and a signature of 128


def test_the_same_holder_gets_the_same_address_until_it_nears_its_end(ours: Any) -> None:
    check = b.a_check()
    first = holder_link(check, to=holder_of(check), now=b.NOW)
    near_the_end = b.NOW + links.LASTS - links.RENEWED_BEFORE
    assert holder_link(check.job, to=holder_of(check), now=near_the_end - timedelta(days=1)) == first
    assert holder_link(check.job, to=holder_of(check), now=near_the_end + timedelta(days=1)) != first


def test_who_stands_in_no_relation_to_the_vehicle_gets_no_address(ours: Any) -> None:
    check = b.a_check()
    assert holder_link(check, to=b.a_holder(), now=b.NOW) == ""
    payer = b.a_holder()
    Holding.objects.create(vehicle=check.job.vehicle, party=payer, role="payer", since=b.TODAY)
    assert holder_link(check, to=payer, now=b.NOW) == ""


def test_addresses_of_many_take_the_same_number_of_queries(ours: Any, django_assert_num_queries: Any) -> None:
    for count in (2, 12):
        pairs = [(check.job.vehicle, holder_of(check)) for check in [b.a_check() for _ in range(count)]]
        with django_assert_num_queries(4):
            assert len(holder_links(pairs, now=b.NOW)) == count


def test_a_contact_gets_an_address_without_the_papers(ours: Any) -> None:
    check = b.a_check()
    driver = b.a_holder("D. Driver")
    Holding.objects.create(vehicle=check.job.vehicle, party=driver, role="contact", since=b.TODAY)
    holder_link(check, to=driver, now=b.NOW)
    assert HolderLink.objects.get().scope == Scope.CONTACT


@pytest.mark.parametrize("what", ["garbage", "cut", "changed", "revoked", "ended", "sold", "unsigned"])
def test_whatever_is_wrong_with_an_address_it_opens_nothing_and_says_nothing(
    ours: Any, now: datetime, what: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    check = b.a_check()
    path, vehicle = link_to(check), check.job.vehicle
    if what == "revoked":
        revoke_links(vehicle=vehicle, now=b.NOW)
    elif what == "ended":
        HolderLink.objects.update(expires_at=b.NOW)
    elif what == "sold":
        Holding.objects.filter(vehicle=vehicle).update(until=b.TODAY)
    elif what == "unsigned":  # a row whose hash fits, but which our key never signed
        HolderLink.objects.update(token_hash=links.hash_of("A" * 43))
    given = {"garbage": "/your-film/%2e%2e/", "cut": path[:-3] + "/", "changed": path[:-3] + "AA/"}
    given["unsigned"] = f"/your-film/{'A' * 43}/"
    answer = Client().get(given.get(what, path))
    unknown = Client().get("/your-film/anything/")
    assert answer.status_code == unknown.status_code == 404
    assert answer.content == unknown.content
    assert "kiln" not in answer.content.decode().lower()


def test_unknown_ended_and_revoked_addresses_ask_the_database_the_same(
    ours: Any, now: datetime, django_assert_num_queries: Any
) -> None:
    """The time an answer takes says nothing either: one look-up and one comparison in each case."""
    path = link_to(b.a_check())
    token = path.split("/")[2]
    for change in ({}, {"expires_at": b.NOW}, {"revoked_at": b.NOW}):
        HolderLink.objects.update(**change)
        for each in (token, "x", "x" * 500, "ü" * 43):
            with django_assert_num_queries(1):
                found = links.find_link(each, b.NOW)
            assert (found is not None) == (not change and each == token)


def test_an_old_key_still_opens_while_it_is_accepted(ours: Any, settings: Any) -> None:
    token = link_to(b.a_check()).split("/")[2]
    old, settings.SECRET_KEY = settings.SECRET_KEY, "another key altogether, made for this test alone"
    assert links.find_link(token, b.NOW) is None
    settings.SECRET_KEY_FALLBACKS = [old]
    assert links.find_link(token, b.NOW) is not None


def test_a_page_is_not_kept_not_indexed_and_tells_nobody_its_address(ours: Any, now: datetime) -> None:
    answer = Client().get(link_to(b.a_check()))
    assert answer["Cache-Control"] == "no-store, private"
    assert answer["Referrer-Policy"] == "no-referrer"
    assert "noindex" in answer["X-Robots-Tag"]


def test_opening_and_acting_are_counted_per_address(
    ours: Any, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(door, "OPENED_AN_HOUR", 3)
    monkeypatch.setattr(door, "ACTS_AN_HOUR", 1)
    check = b.a_check()
    path, client = link_to(check), Client()
    assert [client.get(path).status_code for _ in range(4)] == [200, 200, 200, 429]
    acts = f"{path}reminders/"
    assert [client.post(acts).status_code for _ in range(2)] == [302, 429]
    other = link_to(b.a_check())
    assert client.get(other).status_code == 200
    assert "kiln" not in "".join(AskedOften.objects.values_list("who", flat=True))


def test_guessing_addresses_is_slowed_down(ours: Any, now: datetime, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(door, "UNKNOWN_AN_HOUR", 2)
    path = link_to(b.a_check())
    assert [Client().get("/your-film/guess/").status_code for _ in range(3)] == [404, 404, 429]
    assert Client().get(path).status_code == 200  # whoever has an address is not locked out by a guesser


# --- what it says


def test_it_says_the_check_why_it_helps_and_that_missing_it_ends_nothing(ours: Any, now: datetime) -> None:
    check = b.a_check(due_on=b.TODAY + timedelta(days=2))
    words = text_of(Client().get(link_to(check)))
    assert check.plan.name in words
    assert "A small lift pressed down now does not become a large one" in words
    assert "Not coming, or coming later, never ends your warranty" in words
    assert "New York time" in words
    assert "555-0100" in words


def test_it_says_nothing_of_the_person(ours: Any, now: datetime) -> None:
    """Whoever looks over the holder's shoulder learns neither name, address, plate nor VIN."""
    holder = b.a_holder("Wanda Example", address="9 Private Lane", telephone="555-0177")
    vehicle = b.a_vehicle(holder=holder, plate="8XY 111", vin="0DEMXWRA1TF000123", vin_kind="vin")
    check = b.a_check(b.a_job(vehicle=vehicle, handed_over_on=b.days_ago(14)))
    content = Client().get(link_to(check)).content.decode()
    for private in ("Wanda", holder.email, "Private Lane", "555-0177", "8XY", "0DEMX"):
        assert private not in content


def test_it_speaks_the_holders_language(ours: Any, now: datetime) -> None:
    check = b.a_check()
    Party.objects.update(language="de")
    assert 'lang="de"' in Client().get(link_to(check)).content.decode()


def test_the_shops_own_routine_is_not_offered(ours: Any, now: datetime) -> None:
    check = b.a_check(plan=b.a_plan("routine", offered_to_holder=False))
    path = link_to(check)
    assert "No check is waiting" in text_of(Client().get(path))
    assert Client().get(f"{path}check/{check.pk}/").status_code == 404


def test_a_missed_check_can_still_be_made_up_for_until_the_next_begins(ours: Any, now: datetime) -> None:
    job = b.a_job(handed_over_on=b.days_ago(40))
    missed = b.a_check(job, state="missed", due_on=b.days_ago(26))
    path = link_to(missed)
    assert "You can still come" in text_of(Client().get(path))
    following = b.a_check(job, plan=b.a_plan("three-months"), due_on=b.TODAY + timedelta(days=3))
    words = text_of(Client().get(path))
    assert following.plan.name in words
    assert "You can still come" not in words


def test_a_check_far_ahead_says_from_when_a_time_can_be_had(ours: Any, now: datetime) -> None:
    check = b.a_check(due_on=b.TODAY + timedelta(days=300))
    opens_on = check.window_from - timedelta(days=ours.shop.ahead_days)
    words = text_of(Client().get(link_to(check)))
    assert f"From {opens_on:%B} {opens_on.day}, {opens_on.year} you can pick a time here" in words
    assert "Press a time" not in words


def test_its_queries_do_not_grow_with_the_shop(
    ours: Any, now: datetime, django_assert_max_num_queries: Any
) -> None:
    path = link_to(b.a_check())
    Client().get(path)
    for days in (range(1, 2), range(2, 17)):
        for day in days:
            b.a_booking(b.a_check(), on=b.TODAY + timedelta(days=day))
        with django_assert_max_num_queries(26):
            assert Client().get(path).status_code == 200


# --- a time


def test_one_press_books_the_desk_sees_it_and_a_mail_confirms(ours: Any, now: datetime) -> None:
    check = b.a_check(due_on=b.TODAY + timedelta(days=2))
    path = link_to(check)
    slot = first_slot(Client().get(path))
    answer = Client().post(f"{path}check/{check.pk}/", {"slot": slot})
    assert (answer.status_code, answer["Location"]) == (302, path)
    booking = booked(check)
    assert booking.by_holder
    assert booking.booked_by is None
    assert f"{booking.starts_local}/{booking.lane}" == slot
    message = Message.objects.get(about=f"booking:{booking.uid.hex}")
    assert f"https://kiln.example{path}" in message.text
    assert "the holder" in Change.objects.filter(table="inspections_booking").values_list("who", flat=True)
    desk = ours.client(ours.desk).get("/s/kiln/checks/?show=booked")
    assert str(check.job.vehicle) in text_of(desk)


def test_moved_it_keeps_its_uid_and_its_sequence_grows(ours: Any, now: datetime) -> None:
    check = b.a_check(due_on=b.TODAY + timedelta(days=2))
    first = b.a_booking(check, on=b.TODAY + timedelta(days=2))
    path = f"{link_to(check)}check/{check.pk}/"
    slots = re.findall(r'name="slot" value="([^"]+)"', Client().get(path).content.decode())
    Client().post(path, {"slot": slots[-1]})
    moved = booked(check)
    assert (moved.uid, moved.sequence) == (first.uid, first.sequence + 1)
    assert moved.by_holder
    assert Booking.objects.get(pk=first.pk).state == Booking.State.MOVED


def test_who_would_come_sooner_waits_keeps_the_time_and_may_change_their_mind(
    ours: Any, now: datetime
) -> None:
    check = b.a_check(due_on=b.TODAY + timedelta(days=2))
    booking = b.a_booking(check, on=b.TODAY + timedelta(days=2))
    path, client = link_to(check), Client()
    assert "I would come sooner" in text_of(client.get(path))
    client.post(f"{path}check/{check.pk}/sooner/", {"act": "yes"})
    check.refresh_from_db()
    booking.refresh_from_db()
    assert (check.earlier_wanted, check.earlier_since, booking.state) == (True, now, "booked")
    assert "You would come sooner." in text_of(client.get(path))
    client.post(f"{path}check/{check.pk}/sooner/", {"act": "no"})
    check.refresh_from_db()
    assert not check.earlier_wanted


def test_called_off_the_check_stays_due(ours: Any, now: datetime) -> None:
    check = b.a_check(due_on=b.TODAY + timedelta(days=2))
    booking = b.a_booking(check, on=b.TODAY + timedelta(days=2))
    path = f"{link_to(check)}check/{check.pk}/cancel/"
    assert "Your warranty stays as it is" in text_of(Client().get(path))
    assert booked(check).pk == booking.pk  # opening it changes nothing: mail scanners open everything
    Client().post(path)
    booking.refresh_from_db()
    check.refresh_from_db()
    assert (booking.state, check.state) == (Booking.State.CANCELLED_HOLDER, Check.State.DUE)


@pytest.mark.parametrize(
    "slot",
    [
        "2026-11-24T10:00/1",  # yesterday
        "2026-11-25T10:15/1",  # within the shop's lead time
        "2026-11-26T03:00/1",  # closed
        "2026-11-28T10:00/1",  # a Saturday
        "2026-11-26T10:00/9",  # no such bay
        "2027-11-26T10:00/1",  # farther ahead than the shop books
        "2027-03-14T02:30/1",  # does not exist: RFC 5545 section 3.3.5, the clocks go forward
        "tomorrow",
        "",
    ],
)
def test_the_rules_of_the_desk_hold_here_too(ours: Any, now: datetime, slot: str) -> None:
    ours.shop.lead_hours = 24
    ours.shop.save()
    check = b.a_check(due_on=b.TODAY + timedelta(days=2))
    answer = Client().post(f"{link_to(check)}check/{check.pk}/", {"slot": slot})
    assert answer.status_code == 200  # said on the page, which offers other times
    assert not check.bookings.exists()


def test_a_taken_place_is_said_to_be_taken(ours: Any, now: datetime) -> None:
    check = b.a_check(due_on=b.TODAY + timedelta(days=2))
    path = link_to(check)
    slot = first_slot(Client().get(path))
    other = b.a_check(due_on=b.TODAY + timedelta(days=2))
    Client().post(f"{link_to(other)}check/{other.pk}/", {"slot": slot})
    answer = Client().post(f"{path}check/{check.pk}/", {"slot": slot})
    assert "Somebody has just taken that time" in text_of(answer)
    assert not check.bookings.exists()


def test_an_appointment_that_has_begun_is_neither_moved_nor_called_off_here(
    ours: Any, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    check = b.a_check(due_on=b.TODAY)
    booking = b.a_booking(check, on=b.TODAY)
    path = link_to(check)
    monkeypatch.setattr(timezone, "now", lambda: booking.starts_at + timedelta(minutes=1))
    assert "It has begun" in text_of(Client().get(path))
    Client().post(f"{path}check/{check.pk}/cancel/")
    Client().post(f"{path}check/{check.pk}/", {"slot": "2026-11-27T10:00/1"})
    assert booked(check).pk == booking.pk


def test_reminders_stop_with_a_press_and_come_again(ours: Any, now: datetime) -> None:
    path = f"{link_to(b.a_check())}reminders/"
    party = Party.objects.get()
    Message.objects.create(
        key="r", to=party.email, subject="s", text="t", is_optional=True, not_before=b.NOW, put_at=b.NOW
    )
    Message.objects.create(key="c", to=party.email, subject="s", text="t", not_before=b.NOW, put_at=b.NOW)
    Client().get(path)
    assert Party.objects.get().reminders_stopped_at is None
    for _ in range(2):
        Client().post(path, {"act": "stop"})
    assert Party.objects.get().reminders_stopped_at == b.NOW
    states = dict(Message.objects.values_list("key", "state"))
    assert states == {"r": "dropped", "c": "waiting"}  # a confirmation still goes
    Client().post(path, {"act": "resume"})
    assert Party.objects.get().reminders_stopped_at is None


# --- nobody else's


def test_one_holders_address_reaches_nothing_of_another(world: World, now: datetime) -> None:
    """Another holder of the same shop, and one of another shop: 0 leaks."""
    with shop_scope(world.theirs.shop):
        theirs = b.a_check(due_on=b.TODAY + timedelta(days=2))
        b.a_booking(theirs, on=b.TODAY + timedelta(days=2))
    with shop_scope(world.ours.shop):
        mine, neighbours = (b.a_check(due_on=b.TODAY + timedelta(days=2)) for _ in range(2))
        b.a_booking(neighbours, on=b.TODAY + timedelta(days=2))
        path = link_to(mine)
    leaks, tried = 0, 0
    for check in (theirs, neighbours):
        for end in ("", "cancel/", "appointment.ics"):
            for ask in (Client().get, Client().post):
                answer = ask(f"{path}check/{check.pk}/{end}", {"slot": "2026-11-27T10:00/1"})
                tried += 1
                leaks += answer.status_code not in (404, 405)
        with shop_scope(check.shop):
            assert booked(check).sequence == 0
    print(f"\n{tried} requests of one holder for another's checks, {leaks} leaks")
    assert leaks == 0


def test_a_desk_shows_an_address_and_makes_them_all_open_nothing(ours: Any, now: datetime) -> None:
    check = b.a_check()
    desk, page = ours.client(ours.desk), f"/s/kiln/vehicles/{check.job.vehicle_id}/links/"
    shown = desk.post(page, {"party": holder_of(check).pk}).content.decode()
    path = link_to(check)
    assert f"https://kiln.example{path}" in shown
    assert Client().get(path).status_code == 200
    desk.post(f"{page}revoke/")
    assert Client().get(path).status_code == 404
    assert link_to(check) != path
    assert ours.client(ours.installer).get(page).status_code == 403


def test_E93_a_shop_that_moved_is_reached_on_the_holders_page_as_it_is_now(ours: Any, now: datetime) -> None:
    path = link_to(b.a_check())
    Shop.objects.filter(pk=ours.shop.pk).update(
        name="Kiln Yard Coatings", telephone="555-0188", email="desk@example.com"
    )
    shown = Client().get(path).content.decode()
    for words in ("Kiln Yard Coatings", "tel:555-0188", "mailto:desk@example.com"):
        assert words in shown
    assert "555-0100" not in shown
