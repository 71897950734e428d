"""What the tick writes about checks. Each step asks the database what is due, all shops at once, then works
through it shop by shop in portions; a row is marked in the transaction that puts its message.
"""

from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta
from typing import Any, Final

from django.db import transaction
from django.db.models import Count, Exists, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from shopwarranty.outbox import tick
from shopwarranty.outbox.due import Moment, When
from shopwarranty.shops.having import shops_having

from ..actions.settling import FARTHEST
from ..models import Booking, Check, Finding, Visit
from ..opening import day_span
from . import kinds
from .batches import AT_ONCE, Desk, Facts, each_shop, write_many
from .kinds import Kind
from .routes import is_on
from .sending import next_sending_day
from .values import of_booking, of_check, of_visit

LONG_AGO: Final = timedelta(days=7)
SETTLES: Final = timedelta(hours=1)
"""What was pressed by mistake is taken back within the hour; then it is written about."""


# --- time to book


def _unoffered() -> "QuerySet[Check]":
    booked = Booking.objects.filter(check_due=OuterRef("pk"), state=Booking.State.BOOKED)
    looked_at = Visit.objects.filter(check_due=OuterRef("pk"), state=Visit.State.OPEN)
    rows = Check.objects.filter(state=Check.State.DUE, offered_at__isnull=True)
    return rows.filter(~Exists(booked), ~Exists(looked_at), plan__offered_to_holder=True)


def to_offer(day: date | Moment) -> "QuerySet[Check]":
    return _unoffered().filter(window_from__lte=day)


def offer_checks(now: datetime) -> int:
    """Checks whose window has opened: pick a time. Each once, whether or not there is a way to write."""
    return each_shop(lambda: to_offer((now + FARTHEST).date()), now, _offer)


@transaction.atomic
def _offer(desk: Desk) -> int:
    """The checks are held: whoever books one meanwhile comes after, and takes the offer back."""
    if not is_on(kinds.OFFER, desk.rules):
        return 0
    rows = _unoffered().filter(window_from__lte=desk.today, window_to__gte=desk.today)
    rows = rows.select_related("plan", "job__vehicle").select_for_update(of=("self",))
    checks = list(rows.order_by("window_from", "pk")[:AT_ONCE])
    told = [check for check in checks if not _came_with_an_import(check, desk)]
    count = write_many(desk, kinds.OFFER, told, lambda check: _about_offer(check, desk))
    Check.objects.filter(pk__in=[check.pk for check in checks]).update(offered_at=desk.now)
    return count


def _about_offer(check: Check, desk: Desk) -> Facts:
    return Facts(
        f"check:{check.pk}:{check.window_from:%Y%m%d}:offer",
        f"check:{check.pk}",
        check.job.vehicle,
        lambda: of_check(check, desk.shop),
        day_span(desk.shop, check.window_to, check.window_to)[1],
    )


def _came_with_an_import(check: Check, desk: Desk) -> bool:
    """Bringing in history writes to nobody: windows that were open by then are the desk's to look at."""
    brought = check.job.imported_at
    return brought is not None and check.window_from <= brought.astimezone(desk.shop.zone).date()


# --- reminders


def to_remind(now: When) -> "QuerySet[Booking]":
    return _standing(now).filter(starts_at__lt=now + timedelta(days=11))


def _standing(now: When) -> "QuerySet[Booking]":
    rows = Booking.objects.filter(state=Booking.State.BOOKED, starts_at__gt=now)
    return rows.filter(reminded_late_at__isnull=True)


def remind(now: datetime) -> int:
    """Three days before, and on the morning before; on the last sending day before where that one is none."""
    return each_shop(lambda: to_remind(now), now, _remind)


@transaction.atomic
def _remind(desk: Desk) -> int:
    """The bookings are held: one that is moved or called off meanwhile takes its reminder back."""
    if not desk.hours.has_day(desk.today):
        return 0
    last_late = next_sending_day(desk.hours, desk.today)
    last_early = last_late + timedelta(days=2)
    until = day_span(desk.shop, last_early, last_early)[1]
    rows = _standing(desk.now).filter(starts_at__lt=until)
    rows = rows.filter(
        Q(reminded_early_at__isnull=True) | Q(starts_at__lt=day_span(desk.shop, last_late, last_late)[1])
    )
    rows = rows.select_related("check_due__plan", "check_due__job__vehicle").select_for_update(of=("self",))
    found = list(rows.order_by("starts_at", "pk")[:AT_ONCE])
    late = [one for one in found if _day_of(one) <= last_late]
    early = [one for one in found if _day_of(one) > last_late]
    count = _remind_of(desk, kinds.REMINDER_LATE, late, "1d", "reminded_late_at")
    return count + _remind_of(desk, kinds.REMINDER_EARLY, early, "3d", "reminded_early_at")


def _day_of(booking: Booking) -> date:
    return date.fromisoformat(booking.starts_local[:10])


def _remind_of(desk: Desk, kind: Kind, bookings: Sequence[Booking], when: str, mark: str) -> int:
    """Who booked on this very day has just been told."""
    begins = day_span(desk.shop, desk.today, desk.today)[0]
    told = [one for one in bookings if one.booked_at < begins] if is_on(kind, desk.rules) else []
    count = write_many(desk, kind, told, lambda one: _about_time(one, f"reminder:{when}", desk))
    Booking.objects.filter(pk__in=[one.pk for one in bookings]).update(**{mark: desk.now})
    return count


def _about_time(booking: Booking, said: str, desk: Desk) -> Facts:
    return Facts(
        f"booking:{booking.uid.hex}:v{booking.sequence}:{said}",
        f"booking:{booking.uid.hex}",
        booking.check_due.job.vehicle,
        lambda: of_booking(booking, desk.shop),
        booking.starts_at,
    )


# --- nobody came


def unsaid_misses(now: When) -> "QuerySet[Booking]":
    rows = Booking.objects.filter(state=Booking.State.NOT_KEPT, missed_said_at__isnull=True)
    return rows.filter(changed_at__lte=now - SETTLES, changed_at__gt=now - LONG_AGO)


def say_missed(now: datetime) -> int:
    """Pick a new time, as often as the shop says; then nobody is written to about it any more."""
    return each_shop(lambda: unsaid_misses(now), now, _say_missed)


@transaction.atomic
def _say_missed(desk: Desk) -> int:
    standing = Booking.objects.filter(check_due=OuterRef("check_due"), state=Booking.State.BOOKED)
    often = Booking.objects.filter(check_due=OuterRef("check_due"), state=Booking.State.NOT_KEPT)
    counted = often.order_by().values("check_due").annotate(n=Count("pk")).values("n")
    rows = unsaid_misses(desk.now).annotate(has_time=Exists(standing), times=Coalesce(Subquery(counted), 0))
    rows = rows.select_related("check_due__plan", "check_due__job__vehicle").select_for_update(of=("self",))
    found: list[Any] = list(rows.order_by("pk")[:AT_ONCE])
    open_states = (Check.State.DUE, Check.State.MISSED)
    told = [
        one
        for one in found
        if one.check_due.state in open_states
        and not one.has_time
        and one.times <= desk.rules.offers_at_most
        and is_on(kinds.MISSED, desk.rules)
    ]
    count = write_many(desk, kinds.MISSED, told, lambda one: _about_miss(one, desk))
    Booking.objects.filter(pk__in=[one.pk for one in found]).update(missed_said_at=desk.now)
    return count


def _about_miss(booking: Booking, desk: Desk) -> Facts:
    """It is about the check: a new time for it makes this needless."""
    return Facts(
        f"booking:{booking.uid.hex}:v{booking.sequence}:missed",
        f"check:{booking.check_due_id}",
        booking.check_due.job.vehicle,
        lambda: of_booking(booking, desk.shop),
        desk.now + LONG_AGO,
    )


# --- what was seen


def unsaid_results(now: When) -> "QuerySet[Visit]":
    rows = Visit.objects.filter(state=Visit.State.FINISHED, result_said_at__isnull=True)
    rows = rows.filter(finished_at__lte=now - SETTLES, finished_at__gt=now - LONG_AGO)
    return rows.filter(check_due__isnull=False, is_handover_look=False, by_photo=False)


def say_results(now: datetime) -> int:
    """What a check saw, an hour after it was finished."""
    return each_shop(lambda: unsaid_results(now), now, _say_results)


def _say_results(desk: Desk) -> int:
    visits = list(
        unsaid_results(desk.now).select_related("check_due__plan", "job__vehicle").order_by("pk")[:AT_ONCE]
    )
    told = [one for one in visits if one.job.imported_at is None or one.job.imported_at < one.started_at]
    counts = _findings_of(told) if is_on(kinds.RESULT, desk.rules) else {}
    with transaction.atomic():
        looked = [one for one in told if one.pk in counts]
        count = write_many(desk, kinds.RESULT, looked, lambda one: _about_result(one, counts[one.pk], desk))
        Visit.objects.filter(pk__in=[one.pk for one in visits]).update(result_said_at=desk.now)
    return count


def _findings_of(visits: Iterable[Visit]) -> dict[int, dict[str, int]]:
    """Counts by result; a visit in which nothing was looked at has none."""
    rows = Finding.objects.filter(visit__in=[visit.pk for visit in visits], corrected_at__isnull=True)
    found: dict[int, dict[str, int]] = {}
    for row in rows.order_by().values("visit", "result").annotate(n=Count("pk")):
        found.setdefault(row["visit"], {})[row["result"]] = row["n"]
    return {visit: counts for visit, counts in found.items() if set(counts) - {Finding.Result.NOT_LOOKED}}


def _about_result(visit: Visit, counts: dict[str, int], desk: Desk) -> Facts:
    return Facts(
        f"visit:{visit.pk}:result",
        f"visit:{visit.pk}",
        visit.job.vehicle,
        lambda: of_visit(visit, counts, desk.shop),
        desk.now + LONG_AGO,
    )


# --- when


def add_to_tick() -> None:
    now, farthest = Moment(), Moment(FARTHEST, day=True)
    tick.add_step("offers", offer_checks, due=lambda: shops_having(to_offer(farthest)))
    tick.add_step("reminders", remind, due=lambda: shops_having(to_remind(now)))
    tick.add_step("missed appointments", say_missed, due=lambda: shops_having(unsaid_misses(now)))
    tick.add_step("results", say_results, due=lambda: shops_having(unsaid_results(now)))
