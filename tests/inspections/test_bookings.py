"""Booking, moving, calling off: capacity, reasons, what the holder is told.

Calendar rules: RFC 5545 and RFC 5546 sections 2.1.4 and 3.2. The rest is common practice, no source.
"""

from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from icalendar import Calendar

from shopwarranty.inspections import actions
from shopwarranty.inspections.actions import refusals
from shopwarranty.inspections.models import BookedQuarter, Booking, Check
from shopwarranty.inspections.opening import free_between, opening_of
from shopwarranty.inspections.slots import Slot, first_lane_each, slot_at
from shopwarranty.inspections.wall_clock import TimeDoesNotExist, TimeHappensTwice
from shopwarranty.outbox.delivery import deliver_due
from shopwarranty.outbox.models import Message
from shopwarranty.shops import stored_bytes
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Bay, Change, ClosedDay
from tests import builders as b

THURSDAY = b.TODAY + timedelta(days=1)
FRIDAY = b.TODAY + timedelta(days=2)
SUNDAY = b.TODAY + timedelta(days=4)


@pytest.fixture
def desk(ours: Any) -> Actor:
    return Actor.of(ours.desk)


def at(shop: Any, day: date, hour: int, minute: int = 0, lane: int = 1) -> Slot:
    return slot_at(datetime.combine(day, time(hour, minute)), zone=shop.time_zone, minutes=45, lane=lane)


def book(people: Any, check: Check | None = None, slot: Slot | None = None, **more: Any) -> Booking:
    return actions.book_check(
        check=check or b.a_check(),
        slot=slot or at(people.shop, THURSDAY, 10),
        actor=Actor.of(people.desk),
        now=b.NOW,
        **more,
    )


def calendar_of(message: Message) -> Any:
    (file,) = message.attachments
    return Calendar.from_ical(stored_bytes.read(file["sha256"]))


def event_of(message: Message) -> Any:
    (event,) = calendar_of(message).walk("VEVENT")
    return event


def test_a_booking_takes_its_quarter_hours_and_keeps_wall_time_and_zone(ours: Any) -> None:
    booking = book(ours)
    assert (booking.starts_local, booking.zone) == ("2026-11-26T10:00", "America/New_York")
    assert booking.starts_at == datetime(2026, 11, 26, 15, 0, tzinfo=UTC)
    quarters = list(BookedQuarter.objects.order_by("quarter").values_list("lane", "quarter"))
    assert quarters == [(1, booking.starts_at + timedelta(minutes=15 * n)) for n in range(3)]


def test_a_place_that_is_taken_cannot_be_taken_again(ours: Any) -> None:
    book(ours)
    with pytest.raises(refusals.SlotTaken):
        book(ours, slot=at(ours.shop, THURSDAY, 10, 30))
    assert Booking.objects.count() == 1


def test_the_next_place_begins_when_the_one_before_is_over(ours: Any) -> None:
    book(ours)
    assert book(ours, slot=at(ours.shop, THURSDAY, 10, 45)).pk
    free = free_between(ours.shop, opening_of(ours.shop, 45), THURSDAY, THURSDAY, now=b.NOW)
    starts = [f"{slot.starts_local:%H:%M}" for slot in first_lane_each(free)]
    assert starts[:2] == ["08:00", "08:15"]
    assert starts[starts.index("09:15") + 1] == "11:30"


def test_the_database_itself_refuses_the_same_quarter_in_the_same_lane(ours: Any) -> None:
    taken = BookedQuarter.objects.filter(booking=book(ours)).earliest("quarter")
    with pytest.raises(IntegrityError), transaction.atomic():
        BookedQuarter.objects.create(booking=taken.booking, lane=taken.lane, quarter=taken.quarter)


def test_a_check_has_one_time_at_a_time(ours: Any) -> None:
    booking = book(ours)
    with pytest.raises(refusals.AlreadyBooked):
        book(ours, booking.check_due, at(ours.shop, FRIDAY, 10))


@pytest.mark.parametrize("state", ["done", "waived"])
def test_a_settled_check_needs_no_time(ours: Any, state: str) -> None:
    with pytest.raises(refusals.CheckSettled):
        book(ours, b.a_check(state=state))


def test_a_missed_check_may_still_get_a_time(ours: Any) -> None:
    assert book(ours, b.a_check(state="missed", due_on=b.days_ago(30))).state == "booked"


@pytest.mark.parametrize(
    ("day", "hour"), [(SUNDAY, 10), (THURSDAY, 7), (THURSDAY, 17), (b.TODAY + timedelta(days=61), 10)]
)
def test_outside_the_shops_hours_and_horizon_nothing_is_offered(ours: Any, day: date, hour: int) -> None:
    with pytest.raises(refusals.SlotNotOffered):
        book(ours, slot=at(ours.shop, day, hour))


def test_a_time_that_is_over_is_said_to_be_over(ours: Any) -> None:
    with pytest.raises(refusals.SlotPast):
        book(ours, slot=at(ours.shop, b.days_ago(1), 10))


def test_a_bay_that_does_not_exist_is_not_offered(ours: Any) -> None:
    with pytest.raises(refusals.SlotNotOffered):
        book(ours, slot=at(ours.shop, THURSDAY, 10, lane=7))


def test_E55_a_check_due_on_a_closed_day_is_booked_on_the_next_open_one_and_stays_due_when_it_was(
    ours: Any,
) -> None:
    ClosedDay.objects.create(on=THURSDAY, name="Holiday")
    check = b.a_check(due_on=THURSDAY)
    with pytest.raises(refusals.SlotNotOffered):
        book(ours, check)
    book(ours, check, at(ours.shop, FRIDAY, 10))
    check.refresh_from_db()
    assert (check.due_on, check.window_to) == (THURSDAY, THURSDAY + timedelta(days=14))


def test_E63_beyond_capacity_needs_a_reason_and_lies_in_an_extra_lane_that_shows(
    ours: Any, desk: Actor
) -> None:
    Bay.objects.create(name="Bay 2", position=2)
    for lane in (1, 2):
        book(ours, slot=at(ours.shop, THURSDAY, 10, lane=lane))
    local, extra = datetime.combine(THURSDAY, time(10)), b.a_check()
    with pytest.raises(refusals.ReasonNeeded):
        actions.book_beyond(check=extra, starts_local=local, why=" ", actor=desk, now=b.NOW)
    lanes = [
        actions.book_beyond(
            check=check, starts_local=local, why="only day she can come", actor=desk, now=b.NOW
        ).lane
        for check in (extra, b.a_check())
    ]
    assert lanes == [3, 4]
    booking = Booking.objects.get(lane=3)
    assert booking.over_capacity_why == "only day she can come"
    assert Change.objects.filter(act="booked", row=booking.pk, why="only day she can come").exists()


def test_outside_hours_with_a_reason_a_free_bay_is_used(ours: Any, desk: Actor) -> None:
    local = datetime.combine(SUNDAY, time(10))
    booking = actions.book_beyond(
        check=b.a_check(), starts_local=local, why="meets us", actor=desk, now=b.NOW
    )
    assert booking.lane == 1


@pytest.mark.parametrize(
    ("local", "refusal"),
    [
        (datetime(2027, 3, 14, 2, 30), TimeDoesNotExist),  # noqa: DTZ001
        (datetime(2027, 11, 7, 1, 30), TimeHappensTwice),  # noqa: DTZ001
    ],
)
def test_E64_a_time_the_clock_change_makes_unclear_is_refused(
    ours: Any, desk: Actor, local: datetime, refusal: type[Exception]
) -> None:
    """US rule: second Sunday of March, first Sunday of November, 02:00 local (15 USC 260a, from memory)."""
    with pytest.raises(refusal):
        actions.book_beyond(check=b.a_check(), starts_local=local, why="asked", actor=desk, now=b.NOW)


def test_the_same_local_time_two_weeks_later_over_a_clock_change_is_another_moment(ours: Any) -> None:
    """Computed with the tz database: in New York 10:00 is 14:00Z in October 2026 and 15:00Z in November."""
    early = datetime(2026, 10, 20, 12, 0, tzinfo=UTC)
    moments = [
        actions.book_check(
            check=b.a_check(due_on=day),
            slot=at(ours.shop, day, 10),
            actor=Actor.of(ours.desk),
            now=early,
        ).starts_at
        for day in (date(2026, 10, 23), date(2026, 11, 6))
    ]
    assert [moment.hour for moment in moments] == [14, 15]


def test_E58_moved_five_times_it_keeps_its_uid_and_the_sequence_grows_each_time(
    ours: Any, desk: Actor
) -> None:
    booking = first = book(ours)
    for hour in (11, 12, 13, 11, 10):
        deliver_due(b.NOW)
        booking = actions.move_booking(
            booking=booking, slot=at(ours.shop, FRIDAY, hour), actor=desk, now=b.NOW
        )
    assert (booking.uid, booking.sequence) == (first.uid, 5)
    assert Booking.objects.filter(uid=first.uid).count() == 6
    assert list(Booking.objects.filter(state="booked")) == [booking]
    assert BookedQuarter.objects.count() == 3
    message = Message.objects.get(key__endswith=":v5:moved")
    assert (str(event_of(message)["UID"]), event_of(message)["SEQUENCE"]) == (str(first.uid), 5)
    assert calendar_of(message)["METHOD"] == "REQUEST"


def test_moving_by_a_quarter_of_an_hour_is_not_stopped_by_its_own_place(ours: Any, desk: Actor) -> None:
    moved = actions.move_booking(
        booking=book(ours), slot=at(ours.shop, THURSDAY, 10, 15), actor=desk, now=b.NOW
    )
    assert moved.starts_local.endswith("10:15")


def test_moving_to_a_place_somebody_took_changes_nothing(ours: Any, desk: Actor) -> None:
    booking = book(ours)
    book(ours, slot=at(ours.shop, FRIDAY, 10))
    with pytest.raises(refusals.SlotTaken):
        actions.move_booking(booking=booking, slot=at(ours.shop, FRIDAY, 10), actor=desk, now=b.NOW)
    booking.refresh_from_db()
    assert booking.state == "booked"
    assert BookedQuarter.objects.filter(booking=booking).count() == 3


def test_moving_it_to_where_it_is_tells_nobody_anything(ours: Any, desk: Actor) -> None:
    booking = book(ours)
    same = actions.move_booking(booking=booking, slot=at(ours.shop, THURSDAY, 10), actor=desk, now=b.NOW)
    assert (same.pk, same.sequence, Message.objects.count()) == (booking.pk, 0, 1)


def test_what_was_not_told_yet_about_an_older_time_is_no_longer_told(ours: Any, desk: Actor) -> None:
    booking = book(ours)
    actions.move_booking(booking=booking, slot=at(ours.shop, FRIDAY, 10), actor=desk, now=b.NOW)
    states = dict(Message.objects.values_list("key", "state"))
    assert [states[key] for key in sorted(states)] == ["dropped", "waiting"]


def test_E59_called_off_by_the_shop_it_says_sorry_and_is_not_counted_against_the_holder(
    ours: Any, desk: Actor
) -> None:
    booking = book(ours)
    deliver_due(b.NOW)
    actions.cancel_booking(booking=booking, by_holder=False, actor=desk, now=b.NOW, why="flood in the bay")
    message = Message.objects.get(key__endswith=":v1:cancelled")
    assert (booking.state, booking.check_due.state) == ("cancelled_shop", "due")
    assert "sorry" in message.text
    assert "We will offer you another" in message.text
    event = event_of(message)
    assert (calendar_of(message)["METHOD"], event["STATUS"], event["SEQUENCE"]) == ("CANCEL", "CANCELLED", 1)
    assert not BookedQuarter.objects.exists()


def test_E58_called_off_by_the_holder_and_booked_again_it_is_a_new_appointment(
    ours: Any, desk: Actor
) -> None:
    booking = book(ours)
    actions.cancel_booking(booking=booking, by_holder=True, actor=desk, now=b.NOW)
    again = book(ours, booking.check_due, at(ours.shop, FRIDAY, 10))
    assert (again.sequence, again.uid == booking.uid) == (0, False)


def test_a_booking_called_off_meanwhile_cannot_be_moved(ours: Any, desk: Actor) -> None:
    booking = book(ours)
    stale = Booking.objects.get(pk=booking.pk)
    actions.cancel_booking(booking=booking, by_holder=True, actor=desk, now=b.NOW)
    with pytest.raises(refusals.BookingOver):
        actions.move_booking(booking=stale, slot=at(ours.shop, FRIDAY, 10), actor=desk, now=b.NOW)


def test_who_has_not_heard_of_a_time_yet_does_not_hear_that_it_is_called_off(ours: Any, desk: Actor) -> None:
    booking = book(ours)
    actions.cancel_booking(booking=booking, by_holder=False, actor=desk, now=b.NOW)
    assert list(Message.objects.values_list("state", flat=True)) == ["dropped"]


@pytest.mark.parametrize("state", ["sent", "sending", "parked"])
def test_who_may_have_heard_of_a_time_hears_that_it_is_called_off(ours: Any, desk: Actor, state: str) -> None:
    booking = book(ours)
    Message.objects.update(state=state)
    actions.cancel_booking(booking=booking, by_holder=False, actor=desk, now=b.NOW)
    assert Message.objects.filter(key__endswith=":v1:cancelled", state="waiting").exists()


def test_moved_before_anybody_heard_of_it_only_the_new_time_is_confirmed(ours: Any, desk: Actor) -> None:
    booking = book(ours)
    moved = actions.move_booking(booking=booking, slot=at(ours.shop, FRIDAY, 9), actor=desk, now=b.NOW)
    message = Message.objects.get(state="waiting")
    assert message.key.endswith(":v1:booked")
    assert event_of(message)["SEQUENCE"] == 1
    actions.cancel_booking(booking=moved, by_holder=True, actor=desk, now=b.NOW)
    assert not Message.objects.exclude(state="dropped").exists()


def test_a_second_press_on_the_same_place_is_the_booking_itself(ours: Any, desk: Actor) -> None:
    booking = book(ours)
    again = book(ours, booking.check_due, at(ours.shop, THURSDAY, 10))
    assert (again.pk, Booking.objects.count(), Message.objects.count()) == (booking.pk, 1, 1)
    with pytest.raises(refusals.AlreadyBooked):
        actions.book_check(
            check=booking.check_due,
            slot=at(ours.shop, THURSDAY, 10),
            actor=Actor.of(ours.owner),
            now=b.NOW,
        )


def test_a_second_press_on_an_exception_or_a_move_is_what_the_first_one_made(ours: Any, desk: Actor) -> None:
    check, when = b.a_check(), datetime.combine(SUNDAY, time(10))
    first, second = (
        actions.book_beyond(check=check, starts_local=when, why="only then", actor=desk, now=b.NOW)
        for _ in range(2)
    )
    assert first.pk == second.pk
    stale = Booking.objects.get(pk=first.pk)
    slot = at(ours.shop, FRIDAY, 10)
    moved = actions.move_booking(booking=first, slot=slot, actor=desk, now=b.NOW)
    assert actions.move_booking(booking=stale, slot=slot, actor=desk, now=b.NOW).pk == moved.pk


def test_a_message_put_out_at_night_waits_for_the_shops_hours(ours: Any, desk: Actor) -> None:
    midnight = datetime(2026, 11, 26, 3, 30, tzinfo=UTC)  # 22:30 in New York
    slot = at(ours.shop, FRIDAY, 10)
    actions.book_check(check=b.a_check(), slot=slot, actor=desk, now=midnight)
    message = Message.objects.get()
    assert message.not_before == datetime(2026, 11, 26, 13, 0, tzinfo=UTC)
    assert message.html.startswith("<!doctype html>")


def test_E57_nobody_came_is_noted_the_check_stays_due_and_cover_is_untouched(ours: Any, desk: Actor) -> None:
    booking = book(ours)
    with pytest.raises(refusals.NotYetOver):
        actions.mark_not_kept(booking=booking, actor=desk, now=b.NOW)
    actions.mark_not_kept(booking=booking, actor=desk, now=b.NOW + timedelta(days=2))
    assert (booking.state, Check.objects.get().state) == ("not_kept", "due")
    assert not Message.objects.exclude(key__endswith=":booked").exists()


def test_E13_without_an_address_nothing_is_sent_and_the_booking_stands(ours: Any) -> None:
    vehicle = b.a_vehicle(holder=b.a_holder(email=""))
    check = b.a_check(b.a_job(vehicle=vehicle, handed_over_on=b.days_ago(14)))
    assert book(ours, check).state == "booked"
    assert not Message.objects.exists()


def test_E67_an_address_that_was_refused_is_not_written_to_again(ours: Any) -> None:
    vehicle = b.a_vehicle(holder=b.a_holder(email_refused_at=b.NOW))
    book(ours, b.a_check(b.a_job(vehicle=vehicle, handed_over_on=b.days_ago(14))))
    assert not Message.objects.exists()


def test_E11_the_contact_is_told_before_the_holder(ours: Any) -> None:
    job = b.a_job(handed_over_on=b.days_ago(14))
    driver = b.a_holder("D. Driver", email="driver@example.com")
    job.vehicle.holdings.create(party=driver, role="contact", since=b.days_ago(14), shop=ours.shop)
    book(ours, b.a_check(job))
    assert Message.objects.get().to == "driver@example.com"


def test_E65_the_text_names_the_shops_zone_and_the_calendar_an_absolute_moment(ours: Any) -> None:
    book(ours)
    message = Message.objects.get()
    assert "America/New York time" in message.text
    assert "10:00\u00a0am" in message.text
    start = event_of(message).decoded("DTSTART")
    assert start.astimezone(UTC) == datetime(2026, 11, 26, 15, 0, tzinfo=UTC)


def test_every_message_says_that_missing_the_check_ends_nothing(ours: Any, desk: Actor) -> None:
    booking = book(ours)
    deliver_due(b.NOW)
    booking = actions.move_booking(booking=booking, slot=at(ours.shop, FRIDAY, 9), actor=desk, now=b.NOW)
    actions.cancel_booking(booking=booking, by_holder=True, actor=desk, now=b.NOW)
    texts = list(Message.objects.values_list("text", flat=True))
    assert len(texts) == 3
    for text in texts:
        assert "does not end your warranty" in text or "does not change your warranty" in text
        assert "&" not in text


def test_the_calendar_entry_names_no_plate_and_no_address_in_its_uid(ours: Any) -> None:
    """RFC 7986 section 5.3: a random UUID, no host or personal data."""
    booking = book(ours)
    assert str(event_of(Message.objects.get())["UID"]) == str(booking.uid)


def test_another_shops_check_cannot_be_booked(world: Any) -> None:
    from shopwarranty.shops.scope import shop_scope

    with shop_scope(world.theirs.shop):
        foreign = b.a_check()
    with shop_scope(world.ours.shop), pytest.raises(Check.DoesNotExist):
        book(world.ours, foreign)
