"""Giving a check a time, moving it, calling it off. Unique rows of quarter and lane prevent overbooking."""

from datetime import datetime, timedelta
from typing import Final

from django.db import IntegrityError, transaction

from shopwarranty.inspections.slots import Slot, extra_lane, is_free, may_be_booked, slot_at, units_of
from shopwarranty.shops.history import Actor, StaleState, move_state, record_change

from .. import telling
from ..models import BookedQuarter, Booking, Check
from ..opening import Opening, opening_of, taken_between
from .refusals import (
    AlreadyBooked,
    BookingOver,
    CheckRefusal,
    CheckSettled,
    NotYetOver,
    ReasonNeeded,
    SlotNotOffered,
    SlotPast,
    SlotTaken,
)

TRIES: Final = 5
WANTS_A_TIME = (Check.State.DUE, Check.State.MISSED)


@transaction.atomic
def book_check(
    *, check: Check, slot: Slot, actor: Actor, now: datetime, by_holder: bool = False, tell: bool = True
) -> Booking:
    """Takes an offered place. Raises CheckSettled, AlreadyBooked, SlotPast, SlotNotOffered or SlotTaken.

    The same person asking for the same place of the same check again (a second press) has it already.
    """
    try:
        _must_want_a_time(check)
        must_be_offered(slot, opening_of(check.shop, slot.minutes), now)
        booking = _promise(check=check, slot=slot, actor=actor, now=now, by_holder=by_holder)
    except AlreadyBooked as refusal:
        return _own_press(check, slot, actor, by_holder, refusal)
    _after(booking, "booked", actor, now)
    if tell:
        telling.tell_booked(booking, now=now)
    return booking


@transaction.atomic
def book_beyond(
    *, check: Check, starts_local: datetime, why: str, actor: Actor, now: datetime, tell: bool = True
) -> Booking:
    """Any time to come, outside hours or beyond capacity, for a reason: in an extra lane if no bay is free.

    Raises ReasonNeeded, and what `book_check` raises; WallTimeProblem where a clock change makes it unclear.
    """
    _must_have(why)
    slot = _as_asked(check, starts_local, now)
    try:
        _must_want_a_time(check)
        booking = _promise_beyond(check=check, slot=slot, actor=actor, now=now, why=why)
    except AlreadyBooked as refusal:
        return _own_press(check, slot, actor, False, refusal)
    _after(booking, "booked", actor, now, why)
    if tell:
        telling.tell_booked(booking, now=now)
    return booking


@transaction.atomic
def move_booking(
    *, booking: Booking, slot: Slot, actor: Actor, now: datetime, by_holder: bool = False, tell: bool = True
) -> Booking:
    """The same promise at an offered time: a new row with the same UID, sequence one up.

    To the time it has already: nothing changes and nobody is told.
    """
    if slot.starts_utc == booking.starts_at:
        return booking
    must_be_offered(slot, opening_of(booking.shop, slot.minutes), now)
    try:
        heard = _leave(booking, Booking.State.MOVED, actor, now)
    except BookingOver as refusal:
        return _own_press(booking.check_due, slot, actor, by_holder, refusal)
    moved = _promise(
        check=booking.check_due, slot=slot, actor=actor, now=now, by_holder=by_holder, before=booking
    )
    _after(moved, "booked", actor, now, earlier=moved.starts_at < booking.starts_at)
    if tell:
        telling.tell_moved(moved, now=now, heard=heard)
    return moved


@transaction.atomic
def move_beyond(
    *, booking: Booking, starts_local: datetime, why: str, actor: Actor, now: datetime, tell: bool = True
) -> Booking:
    """As `move_booking`, to any time to come, for a reason."""
    _must_have(why)
    slot = _as_asked(booking.check_due, starts_local, now)
    heard = _leave(booking, Booking.State.MOVED, actor, now)
    moved = _promise_beyond(check=booking.check_due, slot=slot, actor=actor, now=now, why=why, before=booking)
    _after(moved, "booked", actor, now, why, earlier=moved.starts_at < booking.starts_at)
    if tell:
        telling.tell_moved(moved, now=now, heard=heard)
    return moved


@transaction.atomic
def cancel_booking(
    *, booking: Booking, by_holder: bool, actor: Actor, now: datetime, why: str = "", tell: bool = True
) -> Booking:
    """Frees the place; the check stays due. A cancellation by the shop is not counted against the holder.

    Whoever has not heard of the appointment yet does not hear that it is called off either.
    """
    state = Booking.State.CANCELLED_HOLDER if by_holder else Booking.State.CANCELLED_SHOP
    heard = _leave(booking, state, actor, now, why, sequence=booking.sequence + 1)
    if tell and heard:
        telling.tell_cancelled(booking, now=now)
    return booking


@transaction.atomic
def mark_not_kept(*, booking: Booking, actor: Actor, now: datetime) -> Booking:
    """Nobody came. The check stays due and cover is untouched. Raises NotYetOver before its time."""
    if now < booking.starts_at:
        raise NotYetOver
    _leave(booking, Booking.State.NOT_KEPT, actor, now)
    return booking


def _must_want_a_time(check: Check) -> None:
    held = Check.objects.select_for_update().get(pk=check.pk)
    if held.state not in WANTS_A_TIME:
        raise CheckSettled
    if held.bookings.filter(state=Booking.State.BOOKED).exists():
        raise AlreadyBooked


def must_be_offered(slot: Slot, opening: Opening, now: datetime) -> None:
    if slot.starts_utc <= now:
        raise SlotPast
    if not may_be_booked(slot, opening.hours, opening.rules, now=now):
        raise SlotNotOffered


def _must_have(why: str) -> None:
    if not why.strip():
        raise ReasonNeeded


def _as_asked(check: Check, starts_local: datetime, now: datetime) -> Slot:
    slot = slot_at(starts_local, zone=check.shop.time_zone, minutes=check.plan.minutes, lane=0)
    if slot.starts_utc <= now:
        raise SlotPast
    return slot


def _promise(
    *,
    check: Check,
    slot: Slot,
    actor: Actor,
    now: datetime,
    why: str = "",
    by_holder: bool = False,
    before: Booking | None = None,
) -> Booking:
    booking = Booking(
        check_due=check,
        starts_local=f"{slot.starts_local:%Y-%m-%dT%H:%M}",
        zone=slot.zone,
        starts_at=slot.starts_utc,
        minutes=slot.minutes,
        lane=slot.lane,
        over_capacity_why=why[:160],
        booked_at=now,
        changed_at=now,
        booked_by=actor.member,
        by_holder=by_holder,
    )
    if before is not None:
        booking.uid, booking.sequence = before.uid, before.sequence + 1
    _save(booking)
    _take(booking, slot)
    return booking


def _promise_beyond(
    *, check: Check, slot: Slot, actor: Actor, now: datetime, why: str, before: Booking | None = None
) -> Booking:
    """In the first bay that is free, else in an extra lane; looks again when somebody was quicker."""
    opening = opening_of(check.shop, slot.minutes)
    for _ in range(TRIES):
        try:
            with transaction.atomic():
                lane = _lane_for(slot, opening, check)
                return _promise(check=check, slot=lane, actor=actor, now=now, why=why, before=before)
        except SlotTaken:
            continue
    raise SlotTaken


def _lane_for(slot: Slot, opening: Opening, check: Check) -> Slot:
    day = slot.starts_local.date()
    taken = taken_between(check.shop, day - timedelta(days=1), day + timedelta(days=1))
    for lane in opening.rules.lanes:
        in_bay = Slot(slot.starts_local, slot.zone, slot.starts_utc, slot.minutes, lane)
        if is_free(in_bay, taken):
            return in_bay
    return extra_lane(slot, opening.rules, taken=taken)


def _save(booking: Booking) -> None:
    try:
        with transaction.atomic():
            booking.save()
    except IntegrityError as clash:
        raise AlreadyBooked from clash


def _take(booking: Booking, slot: Slot) -> None:
    quarters = [
        BookedQuarter(booking=booking, lane=unit.lane, quarter=unit.quarter) for unit in units_of(slot)
    ]
    try:
        with transaction.atomic():
            BookedQuarter.objects.bulk_create(quarters)
    except IntegrityError as clash:
        raise SlotTaken from clash


def _own_press(check: Check, slot: Slot, actor: Actor, by_holder: bool, refusal: CheckRefusal) -> Booking:
    """The standing booking, when it is what this person asks for; else the refusal stands."""
    rows = Booking.objects.filter(check_due=check, state=Booking.State.BOOKED, starts_at=slot.starts_utc)
    standing = rows.filter(booked_by=actor.member, by_holder=by_holder).first()
    if standing is None:
        raise refusal
    return standing


def _leave(booking: Booking, state: str, actor: Actor, now: datetime, why: str = "", **more: object) -> bool:
    """The promise no longer stands: its quarters are free, what has not been told yet is dropped.

    Whether the holder may have heard of it.
    """
    try:
        move_state(
            booking, old=Booking.State.BOOKED, new=state, actor=actor, at=now, why=why, changed_at=now, **more
        )
    except StaleState as stale:
        raise BookingOver from stale
    BookedQuarter.objects.filter(booking=booking).delete()
    return telling.forget(booking, now=now)


def _after(
    booking: Booking, act: str, actor: Actor, now: datetime, why: str = "", earlier: bool = True
) -> None:
    """Whoever has a time is asked for none; whoever got an earlier one no longer waits for it."""
    telling.forget_offers(booking.check_due, now=now)
    if earlier:
        waits = Check.objects.filter(pk=booking.check_due_id, earlier_wanted=True)
        waits.update(earlier_wanted=False, earlier_since=None)
    after = {"starts": booking.starts_local, "lane": booking.lane, "sequence": booking.sequence}
    record_change(row=booking, act=act, actor=actor, at=now, after=after, why=why)
