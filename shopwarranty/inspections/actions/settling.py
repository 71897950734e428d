"""Checks that end without a visit: set aside for a cause, or missed when their window is over."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final

from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, override

from shopwarranty.jobs.models import Vehicle
from shopwarranty.outbox.due import Moment, When
from shopwarranty.shops.having import shops_having, shops_with
from shopwarranty.shops.history import Actor, StaleState, move_state
from shopwarranty.shops.models import Change, Shop
from shopwarranty.shops.scope import shop_scope

from .. import telling
from ..models import BookedQuarter, Booking, Check, Visit
from ..opening import day_span
from .bookings import WANTS_A_TIME, cancel_booking
from .refusals import CheckSettled, ReasonNeeded

AT_ONCE: Final = 500
FARTHEST: Final = timedelta(hours=14)
"""No zone is further ahead of UTC."""
DECLINED = gettext_lazy("The holder does not want this check.")
TOOL: Final = Actor(who="shopwarranty")


@dataclass(frozen=True, slots=True)
class Settled:
    """How many bookings nobody kept, and how many checks were missed."""

    not_kept: int = 0
    missed: int = 0

    def __add__(self, other: "Settled") -> "Settled":
        return Settled(self.not_kept + other.not_kept, self.missed + other.missed)


@transaction.atomic
def waive_check(*, check: Check, why: str, actor: Actor, now: datetime) -> None:
    """Sets a check aside for a cause: sold, scrapped, not wanted. Its booking is called off. Cover stays."""
    if not why.strip():
        raise ReasonNeeded
    try:
        move_state(
            check,
            old=WANTS_A_TIME,
            new=Check.State.WAIVED,
            actor=actor,
            at=now,
            why=why,
            state_why=why[:160],
            settled_at=now,
        )
    except StaleState as stale:
        raise CheckSettled from stale
    telling.forget_offers(check, now=now)
    for booking in check.bookings.filter(state=Booking.State.BOOKED):
        cancel_booking(booking=booking, by_holder=True, actor=actor, now=now, why=why)


@transaction.atomic
def waive_all(*, vehicle: Vehicle, why: str, actor: Actor, now: datetime) -> int:
    """Sets aside every open check of a vehicle that was sold, scrapped or stripped; reminders stop."""
    checks = list(Check.objects.filter(job__vehicle=vehicle, state__in=WANTS_A_TIME))
    for check in checks:
        waive_check(check=check, why=why, actor=actor, now=now)
    return len(checks)


@transaction.atomic
def take_up_again(*, check: Check, actor: Actor, now: datetime) -> None:
    """A check set aside by mistake is due again."""
    try:
        move_state(
            check,
            old=Check.State.WAIVED,
            new=Check.State.DUE,
            actor=actor,
            at=now,
            state_why="",
            settled_at=None,
        )
    except StaleState as stale:
        raise CheckSettled from stale


def settle_overdue(now: datetime) -> Settled:
    """A step of the tick, every shop: yesterday's bookings nobody kept, checks whose window is over."""
    total = Settled()
    for shop in shops_with(lambda: _begun_before(now), lambda: _over_before((now + FARTHEST).date())):
        with shop_scope(shop), override(shop.language):
            today = now.astimezone(shop.zone).date()
            total += Settled(_not_kept(shop, today, now), _missed(today, now))
    return total


def unsettled() -> "QuerySet[Shop]":
    """Whether there is anything for `settle_overdue`, on the day of the zone farthest ahead."""
    return shops_having(_begun_before(Moment()), _over_before(Moment(FARTHEST, day=True)))


def _begun_before(moment: When) -> "QuerySet[Booking]":
    over = Booking.objects.filter(state=Booking.State.BOOKED, starts_at__lt=moment)
    return over.exclude(visits__state__in=[Visit.State.OPEN, Visit.State.FINISHED])


def _over_before(day: date | Moment) -> "QuerySet[Check]":
    """A check with a time still to come is late, not missed; so is one being looked at just now."""
    over = Check.objects.filter(state=Check.State.DUE, due_on__lt=day, window_to__lt=day)
    return over.exclude(bookings__state=Booking.State.BOOKED).exclude(visits__state=Visit.State.OPEN)


def _not_kept(shop: Shop, today: date, now: datetime) -> int:
    """What waits in the outbox about them drops out by itself: it is of no use after the time it names."""
    over = _begun_before(day_span(shop, today, today)[0]).order_by("starts_at", "pk")
    return _move_all(over, Booking.State.BOOKED, Booking.State.NOT_KEPT, now, changed_at=now)


def _missed(today: date, now: datetime) -> int:
    return _move_all(
        _over_before(today).order_by("due_on", "pk"),
        Check.State.DUE,
        Check.State.MISSED,
        now,
        state_why=_("Its window ended without a visit."),
        settled_at=now,
    )


def _move_all(rows: QuerySet, old: str, new: str, now: datetime, **more: object) -> int:  # type: ignore[type-arg]
    """Set-based, in portions, each with its lines of history in one transaction. `rows`: in an index's order,
    since for the order of their keys the database would walk all that ever was."""
    total = 0
    while ids := list(rows.values_list("pk", flat=True)[:AT_ONCE]):
        with transaction.atomic():
            moved = rows.model.objects.filter(pk__in=ids, state=old).update(state=new, **more)
            if rows.model is Booking:
                BookedQuarter.objects.filter(booking__in=ids).delete()
            _record(rows.model._meta.db_table, ids, old, new, now)
        total += moved
    return total


def _record(table: str, ids: Iterable[int], old: str, new: str, now: datetime) -> None:
    Change.objects.bulk_create(
        Change(
            at=now, who=TOOL.who, act=new, table=table, row=pk, before={"state": old}, after={"state": new}
        )
        for pk in ids
    )
