"""Many people at once never overbook, and nobody's booking is lost."""

from collections import Counter
from collections.abc import Callable
from datetime import datetime, time, timedelta
from typing import Any

import pytest

from shopwarranty.inspections import actions
from shopwarranty.inspections.actions.refusals import AlreadyBooked, BookingOver, SlotTaken
from shopwarranty.inspections.models import BookedQuarter, Booking, Check, Visit
from shopwarranty.inspections.slots import Slot, slot_at
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Bay, Member, Shop
from shopwarranty.shops.scope import shop_scope
from tests import builders as b
from tests.conftest import make_shop
from tests.many_hands import at_once, elsewhere

pytestmark = [pytest.mark.postgres, pytest.mark.xdist_group("many hands")]
CLIENTS, ROUNDS, FIFTY = 32, 3, 50
MONDAY = b.TODAY + timedelta(days=5)


@pytest.fixture
def shop(shared_database: None) -> Shop:
    people = elsewhere(lambda: make_shop("race", name="Race Lane Film", time_zone="America/New_York"))
    return people.shop  # type: ignore[no-any-return]


def inside(shop: Shop, act: Callable[..., Any], **more: Any) -> Callable[[], Any]:
    """The act in the shop's scope, done by its desk."""

    def run() -> Any:
        with shop_scope(shop):
            return act(actor=Actor.of(Member.objects.get(is_desk=True)), now=b.NOW, **more)

    return run


def make_checks(shop: Shop, count: int) -> list[Check]:
    def make() -> list[Check]:
        with shop_scope(shop):
            job = b.a_job(handed_over_on=b.days_ago(14))
            return [b.a_check(job, due_on=b.TODAY + timedelta(days=n)) for n in range(count)]

    return elsewhere(make)


def place(shop: Shop, hour: int) -> Slot:
    return slot_at(datetime.combine(MONDAY, time(hour)), zone=shop.time_zone, minutes=45, lane=1)


def outcomes(results: list[Any]) -> Counter[str]:
    return Counter(type(result).__name__ for result in results)


@pytest.mark.parametrize("hour", [9, 11, 15][:ROUNDS])
def test_of_32_clients_racing_for_the_last_place_one_wins(shop: Shop, hour: int) -> None:
    checks, slot = make_checks(shop, CLIENTS), place(shop, hour)
    results = at_once([inside(shop, actions.book_check, check=check, slot=slot) for check in checks])
    assert outcomes(results) == {"Booking": 1, "SlotTaken": CLIENTS - 1}

    def left() -> tuple[int, int]:
        with shop_scope(shop):
            return Booking.objects.count(), BookedQuarter.objects.count()

    assert elsewhere(left) == (1, 3)


@pytest.mark.long
def test_fifty_times_one_of_32_clients_wins_the_last_place(shop: Shop) -> None:
    waiting = make_checks(shop, CLIENTS + FIFTY)
    for number in range(FIFTY):
        day = MONDAY + timedelta(days=7 * (number // 40) + number // 8 % 5)
        slot = slot_at(datetime.combine(day, time(8 + number % 8)), zone=shop.time_zone, minutes=45, lane=1)
        racing = waiting[:CLIENTS]
        results = at_once([inside(shop, actions.book_check, check=check, slot=slot) for check in racing])
        assert outcomes(results) == {"Booking": 1, "SlotTaken": CLIENTS - 1}
        (winner,) = (result for result in results if isinstance(result, Booking))
        waiting = [check for check in waiting if check.pk != winner.check_due_id]


def test_as_many_win_as_there_are_bays_even_when_their_times_overlap(shop: Shop) -> None:
    def second_bay() -> None:
        with shop_scope(shop):
            Bay.objects.create(name="Bay 2", position=2)

    elsewhere(second_bay)
    checks = make_checks(shop, 12)
    starts = [datetime.combine(MONDAY, time(10, minute)) for minute in (0, 15, 30)]
    slots = [
        slot_at(start, zone=shop.time_zone, minutes=45, lane=lane) for start in starts for lane in (1, 2)
    ]
    results = at_once(
        [
            inside(shop, actions.book_check, check=check, slot=slots[number % len(slots)])
            for number, check in enumerate(checks)
        ]
    )
    assert outcomes(results) == {"Booking": 2, "SlotTaken": 10}


def test_one_check_clicked_by_many_gets_one_time(shop: Shop) -> None:
    (check,) = make_checks(shop, 1)
    acts = [inside(shop, actions.book_check, check=check, slot=place(shop, hour)) for hour in range(8, 16)]
    results = at_once(acts)
    assert sum(isinstance(result, Booking) for result in results) == 1
    assert all(isinstance(result, Booking | AlreadyBooked | SlotTaken) for result in results)


def test_moved_by_many_at_once_it_moves_once(shop: Shop) -> None:
    (check,) = make_checks(shop, 1)
    booking = elsewhere(inside(shop, actions.book_check, check=check, slot=place(shop, 8)))

    def mine() -> Booking:
        with shop_scope(shop):
            return Booking.objects.select_related("shop", "check_due__plan").get(pk=booking.pk)

    copies = [elsewhere(mine) for _ in range(6)]
    acts = [
        inside(shop, actions.move_booking, booking=copy, slot=place(shop, 9 + number))
        for number, copy in enumerate(copies)
    ]
    results = at_once(acts)
    assert sum(isinstance(result, Booking) for result in results) == 1
    assert sum(isinstance(result, BookingOver) for result in results) == 5


def test_beyond_capacity_everybody_with_a_reason_gets_a_lane_of_their_own(shop: Shop) -> None:
    checks, local = make_checks(shop, 5), datetime.combine(MONDAY, time(10))
    results = at_once(
        [
            inside(shop, actions.book_beyond, check=check, starts_local=local, why="from far away")
            for check in checks
        ]
    )
    assert sorted(booking.lane for booking in results) == [1, 2, 3, 4, 5]


def test_started_on_several_phones_it_is_one_visit(shop: Shop) -> None:
    (check,) = make_checks(shop, 1)
    acts = [
        inside(shop, actions.start_visit, job=check.job, origin=Visit.Origin.PLANNED, today=b.TODAY)
        for _ in range(6)
    ]
    results = at_once(acts)
    assert len({visit.pk for visit in results}) == 1, results
