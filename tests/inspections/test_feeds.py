"""Calendar addresses of members and bays: private, made anew, revoked; what they hold and what not."""

from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from shopwarranty.inspections import actions
from shopwarranty.inspections.feeds import views
from shopwarranty.inspections.feeds.addresses import find_feed, hash_of, new_feed, revoke_feed
from shopwarranty.inspections.feeds.contents import shop_calendar
from shopwarranty.inspections.models import CalendarFeed
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Bay, Change
from shopwarranty.shops.scope import shop_scope
from tests import builders as b
from tests.conftest import World
from tests.kept_apart import names_of

from .strict_calendar import read


@pytest.fixture
def now(monkeypatch: pytest.MonkeyPatch) -> datetime:
    monkeypatch.setattr(timezone, "now", lambda: b.NOW)
    return b.NOW


def made(ours: Any, **whose: Any) -> tuple[CalendarFeed, str]:
    return new_feed(actor=Actor.of(ours.owner), now=b.NOW, **(whose or {"member": ours.desk}))


def fetched(token: str) -> Any:
    return Client().get(f"/calendar/{token}.ics")


def events(answer: Any) -> list[Any]:
    assert answer.status_code == 200
    return read(answer.content).parts("VEVENT")


def a_time(days: int, **more: Any) -> Any:
    return b.a_booking(b.a_check(), on=b.TODAY + timedelta(days=days), **more)


def test_a_feed_is_a_published_calendar_without_attendees(ours: Any, now: datetime) -> None:
    """RFC 5546 section 3.2.1: PUBLISH, ORGANIZER in each event, no ATTENDEE; RFC 7986 section 5.1: NAME."""
    a_time(1)
    token = made(ours)[1]
    answer = fetched(token)
    assert answer["Content-Type"] == "text/calendar; charset=utf-8; method=PUBLISH"
    assert answer["Cache-Control"] == "no-store, private"
    calendar = read(answer.content)
    assert calendar.one("METHOD").value == "PUBLISH"
    assert calendar.one("NAME").value == "Kiln Lane Film\\, checks"
    (event,) = calendar.parts("VEVENT")
    assert event.one("ORGANIZER").value == "mailto:desk@kiln.example"
    assert not event.all("ATTENDEE")
    assert not event.parts("VALARM")


def test_it_names_nobody(ours: Any, now: datetime) -> None:
    vehicle = b.a_vehicle(holder=b.a_holder("Wanda Example"), plate="8XY 111", model="Holm")
    check = b.a_check(b.a_job(vehicle=vehicle, handed_over_on=b.days_ago(14)))
    b.a_booking(check, on=b.TODAY + timedelta(days=1))
    words = fetched(made(ours)[1]).content.decode().replace("\r\n ", "")
    assert check.job.ref in words
    for private in ("Wanda", "8XY", "Holm", vehicle.holdings.get().party.email, "your-film"):
        assert private not in words


def test_a_shop_without_a_mail_address_has_a_plain_calendar(ours: Any, now: datetime) -> None:
    """RFC 5546 section 3.2.1 asks for an ORGANIZER in what is published; without METHOD it is RFC 5545."""
    ours.shop.email = ""
    ours.shop.save()
    a_time(1)
    answer = fetched(made(ours)[1])
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    calendar = read(answer.content)
    assert not calendar.all("METHOD")
    assert not calendar.parts("VEVENT")[0].all("ORGANIZER")


def test_a_feed_of_a_bay_holds_what_comes_into_that_bay(ours: Any, now: datetime) -> None:
    second = Bay.objects.create(name="Bay 2", position=2)
    here, _there = a_time(1, lane=2), a_time(2, lane=1)
    assert [event.one("UID").value for event in events(fetched(made(ours, bay=second)[1]))] == [str(here.uid)]
    assert len(events(fetched(made(ours)[1]))) == 2


def test_moved_it_stands_at_its_new_time_with_a_grown_sequence_and_called_off_it_is_gone(
    ours: Any, now: datetime
) -> None:
    """RFC 5545 sections 3.8.4.7 and 3.8.7.4: the UID stays, SEQUENCE grows."""
    token = made(ours)[1]
    booking = a_time(1)
    actor = Actor.of(ours.desk)
    to = b.TODAY + timedelta(days=2)
    moved = actions.move_beyond(
        booking=booking,
        starts_local=datetime(to.year, to.month, to.day, 11),  # noqa: DTZ001 a wall time
        why="asked",
        actor=actor,
        now=b.NOW,
    )
    (event,) = events(fetched(token))
    assert (event.one("UID").value, event.one("SEQUENCE").value) == (str(booking.uid), "1")
    assert event.one("DTSTART").value == "20261127T110000"
    actions.cancel_booking(booking=moved, by_holder=True, actor=actor, now=b.NOW)
    assert events(fetched(token)) == []


def test_only_a_hash_is_kept_and_a_new_address_ends_the_one_before(ours: Any, now: datetime) -> None:
    first, again = made(ours)[1], made(ours)[1]
    assert [fetched(token).status_code for token in (first, again)] == [404, 200]
    assert not CalendarFeed.objects.filter(token_hash__in=[first, again]).exists()
    assert CalendarFeed.objects.filter(revoked_at__isnull=True).get().token_hash == hash_of(again)
    assert Change.objects.filter(table="inspections_calendarfeed").count() == 2


def test_revoked_left_and_retired_open_nothing_as_if_they_never_were(ours: Any, now: datetime) -> None:
    feed, token = made(ours)
    revoke_feed(feed=feed, actor=Actor.of(ours.owner), now=b.NOW)
    of_who_leaves = made(ours)[1]
    bay = Bay.objects.get()
    of_bay = made(ours, bay=bay)[1]
    type(ours.desk).objects.filter(pk=ours.desk.pk).update(left_at=b.NOW)
    Bay.objects.update(retired_at=b.NOW)
    answers = [fetched(each) for each in (token, of_who_leaves, of_bay, "unknown", "x" * 300)]
    assert {(answer.status_code, answer.content) for answer in answers} == {(404, b"")}


def test_whatever_is_wrong_one_query_is_asked(
    ours: Any, now: datetime, django_assert_num_queries: Any
) -> None:
    feed, token = made(ours)
    for each in (token, "unknown"):
        with django_assert_num_queries(1):
            find_feed(each)
    CalendarFeed.objects.filter(pk=feed.pk).update(revoked_at=b.NOW)
    with django_assert_num_queries(1):
        assert find_feed(token) is None


def test_fetching_and_guessing_are_counted(ours: Any, now: datetime, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(views, "FETCHED_AN_HOUR", 2)
    monkeypatch.setattr(views, "UNKNOWN_AN_HOUR", 2)
    token = made(ours)[1]
    assert [fetched(token).status_code for _ in range(3)] == [200, 200, 429]
    assert [fetched("guess").status_code for _ in range(3)] == [404, 404, 429]


def test_a_feed_asks_the_same_however_many_appointments(ours: Any, now: datetime) -> None:
    counts = []
    for days in (range(1, 2), range(2, 20)):
        for day in days:
            a_time(day)
        with CaptureQueriesContext(connection) as queries:
            shop_calendar(ours.shop, now=b.NOW, today=b.TODAY)
        counts.append(len(queries))
    assert counts[0] == counts[1] == 2


def test_an_address_is_shown_once_and_the_page_lists_what_there_is(ours: Any, now: datetime) -> None:
    desk, page = ours.client(ours.desk), "/s/kiln/calendars/"
    shown = desk.post(page, {"whose": "own"}).content.decode()
    token = shown.split("/calendar/")[1].split(".ics")[0]
    assert "https://kiln.example/calendar/" in shown
    assert fetched(token).status_code == 200
    assert token not in desk.get(page).content.decode()
    feed = CalendarFeed.objects.get(member=ours.desk)
    # a colleague cannot revoke it, an owner can
    assert ours.client(ours.installer).post(f"{page}{feed.pk}/revoke/").status_code == 404
    assert ours.client(ours.owner).post(f"{page}{feed.pk}/revoke/").status_code == 302
    assert fetched(token).status_code == 404


@pytest.mark.parametrize("whose", ["", "0", "999999", "x", "own'"])
def test_an_address_of_nothing_is_not_made(ours: Any, now: datetime, whose: str) -> None:
    assert ours.client(ours.desk).post("/s/kiln/calendars/", {"whose": whose}).status_code == 404
    assert not CalendarFeed.objects.exists()


def test_no_feed_says_a_word_of_another_shop(world: World, now: datetime) -> None:
    for people in (world.ours, world.theirs):
        with shop_scope(people.shop):
            a_time(1)
    with shop_scope(world.theirs.shop):
        _feed, token = new_feed(actor=Actor.of(world.theirs.owner), now=b.NOW, member=world.theirs.owner)
        (booking,) = [each.uid for each in type(a_time(3)).objects.order_by("-pk")[:1]]
    content = fetched(token).content.decode()
    assert content.count("BEGIN:VEVENT") == 2
    assert str(booking) in content
    assert not {name for name in names_of(world.ours.shop) if name in content}


def test_the_command_writes_the_shops_calendar(ours: Any, now: datetime, tmp_path: Path, capsys: Any) -> None:
    a_time(1)
    out = tmp_path / "kiln.ics"
    call_command("calendar_feed", shop="kiln", out=out)
    assert len(read(out.read_bytes()).parts("VEVENT")) == 1
    assert "1 appointments of Kiln Lane Film" in capsys.readouterr().out
    with pytest.raises(CommandError, match="no shop nowhere"):
        call_command("calendar_feed", shop="nowhere", out=out)
    with pytest.raises(CommandError, match="cannot be written"):
        call_command("calendar_feed", shop="kiln", out=tmp_path / "no" / "folder.ics")
