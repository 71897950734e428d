"""The waiting list: somebody would come sooner, a place opens, one press moves or offers. Common practice."""

from datetime import date, datetime, time, timedelta
from typing import Any

import pytest
from django.utils import timezone

from shopwarranty.inspections.actions.earlier import ask_for_earlier, no_longer_earlier, offer_earlier
from shopwarranty.inspections.actions.refusals import CheckSettled, SlotNotOffered, SlotTaken
from shopwarranty.inspections.earlier import waiting_for_earlier
from shopwarranty.inspections.models import Booking, Check
from shopwarranty.inspections.slots import Slot, slot_at
from shopwarranty.outbox.models import Message
from shopwarranty.shops.history import Actor
from tests import builders as b
from tests.conftest import ShopPeople

THURSDAY = date(2026, 11, 26)


@pytest.fixture
def desk(ours: ShopPeople) -> Actor:
    return Actor.of(ours.desk)


def at(shop: Any, day: date, hour: int) -> Slot:
    return slot_at(datetime.combine(day, time(hour)), zone=shop.time_zone, minutes=45, lane=1)


def waiting(desk: Actor, days: int = 5, **more: Any) -> Check:
    """With a time in some days, who would come sooner."""
    check = b.a_check(due_on=b.TODAY + timedelta(days=3))
    b.a_booking(check, on=b.TODAY + timedelta(days=days), **more)
    ask_for_earlier(check=check, actor=desk, now=b.NOW)
    return check


def test_who_asked_first_stands_first_and_each_sees_the_first_free_place(
    ours: ShopPeople, desk: Actor
) -> None:
    first, second = waiting(desk), waiting(desk, hour=18)
    ask_for_earlier(check=first, actor=desk, now=b.NOW + timedelta(hours=1))
    rows = waiting_for_earlier(ours.shop, now=b.NOW, today=b.TODAY)
    assert [row.check.pk for row in rows] == [first.pk, second.pk]
    assert all(row.place and f"{row.place.slot.starts_local:%d %H:%M}" == "25 12:00" for row in rows)


def test_nothing_before_the_window_and_nothing_after_the_time_there_is(ours: ShopPeople, desk: Actor) -> None:
    early = b.a_check(due_on=b.TODAY + timedelta(days=9))  # its window opens on Friday
    b.a_booking(early, on=b.TODAY + timedelta(days=2), hour=13)  # at eight on Friday
    ask_for_earlier(check=early, actor=desk, now=b.NOW)
    (row,) = waiting_for_earlier(ours.shop, now=b.NOW, today=b.TODAY)
    assert row.place is None


def test_moved_to_an_earlier_time_nobody_waits_any_more_and_is_told_once(
    ours: ShopPeople, desk: Actor, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(timezone, "now", lambda: b.NOW)
    check = waiting(desk)
    booking, client = check.bookings.get(), ours.client(ours.desk)
    shown = client.get("/s/kiln/checks/earlier/").content.decode()
    assert "One could come sooner now." in shown
    sent = {"slot": "2026-11-25T12:00/1", "next": "/s/kiln/checks/earlier/"}
    for _ in range(2):
        client.post(f"/s/kiln/bookings/{booking.pk}/move/", sent)
    check.refresh_from_db()
    assert (check.earlier_wanted, Booking.objects.get(state="booked").starts_local) == (
        False,
        "2026-11-25T12:00",
    )
    assert Message.objects.count() == 1
    assert "Nobody waits" in client.get("/s/kiln/checks/earlier/").content.decode()


def test_moved_to_a_later_time_one_still_waits(ours: ShopPeople, desk: Actor) -> None:
    from shopwarranty.inspections.actions import move_booking

    check = waiting(desk)
    move_booking(
        booking=check.bookings.get(), slot=at(ours.shop, date(2026, 12, 2), 9), actor=desk, now=b.NOW
    )
    check.refresh_from_db()
    assert check.earlier_wanted


def test_a_place_is_offered_in_writing_once_for_each_time(ours: ShopPeople, desk: Actor) -> None:
    check = waiting(desk)
    for _ in range(2):
        message = offer_earlier(check=check, slot=at(ours.shop, THURSDAY, 9), now=b.NOW)
    offer_earlier(check=check, slot=at(ours.shop, THURSDAY, 10), now=b.NOW)
    assert Message.objects.count() == 2
    assert message is not None
    assert "This one is free now" in message.text
    assert "Thursday, November 26" in message.text


def test_a_place_that_cannot_be_had_is_not_offered(ours: ShopPeople, desk: Actor) -> None:
    check = waiting(desk)
    b.a_booking(b.a_check(), on=THURSDAY, hour=15)  # at ten
    with pytest.raises(SlotTaken):
        offer_earlier(check=check, slot=at(ours.shop, THURSDAY, 10), now=b.NOW)
    with pytest.raises(SlotNotOffered):
        offer_earlier(check=check, slot=at(ours.shop, THURSDAY, 6), now=b.NOW)
    assert not Message.objects.exists()


def test_when_somebody_calls_off_the_desk_sees_whom_to_ask(
    ours: ShopPeople, desk: Actor, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(timezone, "now", lambda: b.NOW)
    gone = b.a_booking(b.a_check(), on=THURSDAY)
    client = ours.client(ours.desk)
    sent = {"by": "holder", "why": ""}
    waiting(desk)
    answer = client.post(f"/s/kiln/bookings/{gone.pk}/cancel/", sent)
    assert answer["Location"] == "/s/kiln/checks/earlier/"


def test_the_check_puts_itself_on_the_list_and_off_again(ours: ShopPeople, desk: Actor) -> None:
    check, client = b.a_check(), ours.client(ours.desk)
    for wanted in (True, False):
        client.post(f"/s/kiln/checks/{check.pk}/sooner/")
        check.refresh_from_db()
        assert check.earlier_wanted is wanted
    Check.objects.filter(pk=check.pk).update(state="done", settled_at=b.NOW)
    with pytest.raises(CheckSettled):
        ask_for_earlier(check=check, actor=desk, now=b.NOW)
    no_longer_earlier(check=check, actor=desk, now=b.NOW)


def test_the_list_asks_as_often_for_many_as_for_few(
    ours: ShopPeople, desk: Actor, django_assert_max_num_queries: Any
) -> None:
    counts = []
    for more in (2, 12):
        for n in range(more):
            waiting(desk, lane=10 * more + n)
        with django_assert_max_num_queries(15) as captured:
            waiting_for_earlier(ours.shop, now=b.NOW, today=b.TODAY)
        counts.append(len(captured))
    assert counts[0] == counts[1]
