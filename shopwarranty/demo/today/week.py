"""Appointments of today and the days after it, calls that were made, and the one nobody kept."""

from collections.abc import Iterable
from datetime import date, time, timedelta
from itertools import zip_longest

from shopwarranty.inspections.actions import (
    book_check,
    mark_not_kept,
    move_booking,
    note_contact,
    waive_check,
)
from shopwarranty.inspections.models import Booking, Check
from shopwarranty.inspections.selectors import free_places
from shopwarranty.inspections.slots import Slot
from shopwarranty.outbox.models import Message

from .moment import Day

ON_WHICH_DAYS = (0, 0, 0, 0, 1, 1, 2, 3, 3, 5, 6)
PLANS = ("two-week", "three-month", "yearly")
HOURS = (9, 13, 13, 15)
CALLS = (
    ("message_left", 2, "asked to call back about a time"),
    ("no_answer", 1, ""),
    ("call_again", 4, "at work, better after five"),
    ("reached", 9, "will look at the calendar and call"),
)


def fill_week(day: Day) -> None:
    """Some of the checks that wait are booked; about the others the desk has to call."""
    waiting = _waiting(day)
    to_book = _in_turn(of_plan[::2] for of_plan in waiting)[: len(ON_WHICH_DAYS)]
    to_call = [check for check in _in_turn(waiting) if check not in to_book]
    for number, (check, ahead) in enumerate(zip(to_book, ON_WHICH_DAYS, strict=True)):
        _book(day, check, day.today + timedelta(days=ahead), HOURS[number % len(HOURS)], number)
    _call(day, to_call)
    _nobody_came(day, to_call)
    _mails_are_out(day)


def _waiting(day: Day) -> list[list[Check]]:
    """The checks whose window is open, by plan; the longest due first."""
    rows = Check.objects.filter(state=Check.State.DUE, plan__offered_to_holder=True)
    rows = rows.filter(window_from__lte=day.today + timedelta(days=6), job__kind="customer")
    found = list(rows.select_related("plan", "job__vehicle", "shop").order_by("due_on", "pk"))
    return [[check for check in found if check.plan.key == key] for key in PLANS]


def _in_turn(by_plan: Iterable[list[Check]]) -> list[Check]:
    """One of each plan, then the next of each."""
    return [check for turn in zip_longest(*by_plan) for check in turn if check is not None]


def _book(day: Day, check: Check, on: date, hour: int, number: int) -> Booking:
    now = day.ago(2 + number % 4, time(11, number))
    booking = book_check(check=check, slot=_slot(day, check, on, hour), actor=day.actor("desk"), now=now)
    if number == 5:
        earlier = _slot(day, check, on, hour + 1)
        booking = move_booking(booking=booking, slot=earlier, actor=day.actor("desk"), now=day.eve)
    return booking


def _slot(day: Day, check: Check, on: date, hour: int) -> Slot:
    """The first free place of the day from that hour on, else of the day at all, else of the next day."""
    now = day.eve - timedelta(days=7)
    places = [p.slot for p in free_places(day.shop, on, now=now, minutes=check.plan.minutes)]
    later = [slot for slot in places if slot.starts_local.hour >= hour]
    for slot in (*later, *places):
        return slot
    return _slot(day, check, on + timedelta(days=1), hour)


def _call(day: Day, to_call: list[Check]) -> None:
    """About some somebody called already; one holder does not want the check."""
    for number, (result, ago, note) in enumerate(CALLS):
        for check in to_call[number + 1 :: 7]:
            note_contact(
                check=check, result=result, actor=day.actor("desk"), now=day.ago(ago, time(11, 20)), note=note
            )
    moved_away = next(check for check in reversed(to_call) if check.plan.key == "yearly")
    waive_check(check=moved_away, why="Has moved away.", actor=day.actor("desk"), now=day.eve)


def _nobody_came(day: Day, to_call: list[Check]) -> None:
    """An appointment of the day before yesterday that was not kept; the check is still due."""
    check = next(one for one in to_call if one.state == Check.State.DUE and one.window_from < day.today)
    on = day.today - timedelta(days=2)
    before = day.ago(6, time(14))
    places = free_places(day.shop, on, now=before, minutes=check.plan.minutes)
    slot = places[-1].slot
    booking = book_check(check=check, slot=slot, actor=day.actor("desk"), now=before, by_holder=True)
    mark_not_kept(booking=booking, actor=day.actor("desk"), now=day.ago(1, time(9)))


def _mails_are_out(day: Day) -> None:
    """What was put in before the eve has been sent."""
    out = Message.objects.filter(state=Message.State.WAITING, not_before__lt=day.eve - timedelta(hours=20))
    out.update(state=Message.State.SENT, settled_at=day.eve - timedelta(hours=19), attempts=1)
