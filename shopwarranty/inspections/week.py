"""The desk's week: what is booked or was done, what is free, and what still needs a place."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from itertools import groupby
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopwarranty.shops.models import Bay, Shop
from shopwarranty.web import formats

from . import selectors
from .check_rows import CheckRow, row_of
from .free_places import FreePlace, by_day, packed
from .models import Booking, Check, Visit
from .opening import Opening, free_between, opening_of

MOST_WAITING = 30


@dataclass(frozen=True, slots=True)
class Entry:
    """Something that happens, or happened, at a time of that day.

    `place` is set when it is free; `places` then counts the free ones up to `ends`, one after the other.
    """

    starts: datetime
    title: str = ""
    what: str = ""
    chip: str = ""
    chip_words: str = ""
    where: str = ""
    beyond: str = ""
    check_id: int | None = None
    booking_id: int | None = None
    visit_id: int | None = None
    moves: bool = False
    place: FreePlace | None = None
    places: int = 0
    ends: datetime | None = None


@dataclass(frozen=True, slots=True)
class WeekDay:
    on: date
    is_today: bool
    closed: str
    holiday: str
    entries: tuple[Entry, ...]
    taken: int
    free: int

    @property
    def is_shut(self) -> bool:
        """Closed, and nothing happens all the same."""
        return bool(self.closed) and not self.entries


@dataclass(frozen=True, slots=True)
class Week:
    first: date
    last: date
    days: tuple[WeekDay, ...]
    waiting: tuple[CheckRow, ...]
    waiting_count: int

    @property
    def columns(self) -> list[list[WeekDay]]:
        """One day each; days on which the shop is shut one after the other share a column."""
        found: list[list[WeekDay]] = []
        for day in self.days:
            if day.is_shut and found and found[-1][-1].is_shut:
                found[-1].append(day)
            else:
                found.append([day])
        return found

    @property
    def free(self) -> int:
        return sum(day.free for day in self.days)

    @property
    def before(self) -> date:
        return self.first - timedelta(days=7)

    @property
    def after(self) -> date:
        return self.first + timedelta(days=7)

    @property
    def number(self) -> int:
        """By ISO 8601: the week that holds its Thursday."""
        return self.first.isocalendar().week


def load_week(
    shop: Shop,
    day: date,
    *,
    now: datetime,
    today: date,
    chosen: Check | None = None,
    but: Booking | None = None,
) -> Week:
    """The week that holds `day`. Free places are as long as the `chosen` check needs them."""
    first = day - timedelta(days=day.weekday())
    last = first + timedelta(days=6)
    opening = opening_of(shop, chosen.plan.minutes if chosen else None)
    free = by_day(packed(free_between(shop, opening, first, last, now=now, but=but)))
    taken = _taken(shop, first, last, _places(opening))
    waiting = selectors.need_a_time(today, last)
    return Week(
        first,
        last,
        tuple(
            _day(first + timedelta(days=n), today, opening, free, taken, apart=chosen is not None)
            for n in range(7)
        ),
        tuple(row_of(check, shop, today) for check in waiting[:MOST_WAITING]),
        waiting.count(),
    )


def _places(opening: Opening) -> dict[int, str]:
    """What a lane is called where there is more than one; lanes past the last bay are extra."""
    names = dict(Bay.objects.filter(retired_at__isnull=True).values_list("position", "name"))
    return names if len(opening.rules.lanes) > 1 else dict.fromkeys(opening.rules.lanes, "")


def _taken(shop: Shop, first: date, last: date, lanes: dict[int, str]) -> dict[date, list[Entry]]:
    entries: dict[date, list[Entry]] = defaultdict(list)
    for booking in selectors.coming_in(shop, first, last):
        entries[date.fromisoformat(booking.starts_local[:10])].append(_booked(booking, shop, lanes))
    for visit in selectors.walked_in(first, last):
        entries[visit.happened_on].append(_walked_in(visit))
    return entries


def _booked(booking: Any, shop: Shop, lanes: dict[int, str]) -> Entry:
    chip, words = _chip(booking)
    check = booking.check_due
    return Entry(
        booking.starts_at,
        booking.plate_now or str(check.job.vehicle),
        check.plan.name,
        chip,
        words,
        lanes.get(booking.lane, _("extra")),
        booking.over_capacity_why,
        check_id=check.pk,
        booking_id=booking.pk,
        moves=booking.state == Booking.State.BOOKED and not booking.is_here,
    )


def _chip(booking: Any) -> tuple[str, str]:
    if booking.state == Booking.State.NOT_KEPT:
        return "missed", _("Nobody came")
    if booking.state == Booking.State.KEPT:
        return _done(booking.wrong)
    return "booked", _("Being looked at") if booking.is_here else _("Booked")


def _done(wrong: int) -> tuple[str, str]:
    if wrong:
        return "lift", ngettext("Done, %(n)d wrong", "Done, %(n)d wrong", wrong) % {"n": wrong}
    return "done", _("Done")


def _walked_in(visit: Any) -> Entry:
    chip, words = ("booked", _("Being looked at")) if visit.state == Visit.State.OPEN else _done(visit.wrong)
    return Entry(
        visit.started_at,
        visit.plate_now or str(visit.job.vehicle),
        visit.check_due.plan.name if visit.check_due else str(visit.get_origin_display()),
        chip,
        words,
        visit_id=visit.pk,
    )


def _day(
    on: date,
    today: date,
    opening: Opening,
    free: dict[date, list[FreePlace]],
    taken: dict[date, list[Entry]],
    *,
    apart: bool,
) -> WeekDay:
    places, is_open = free.get(on, []), opening.hours.is_open(on)
    entries = [*taken.get(on, []), *(_free(place) for place in places)]
    entries.sort(key=lambda entry: entry.starts)
    return WeekDay(
        on,
        on == today,
        "" if is_open else opening.days.why_closed(on) or _("Closed"),
        opening.days.holiday(on) if is_open else "",
        tuple(entries if apart else _drawn_together(entries)),
        len(taken.get(on, [])),
        sum(place.lanes for place in places),
    )


def _free(place: FreePlace) -> Entry:
    return Entry(place.starts, place=place, places=place.lanes, ends=place.slot.ends_utc)


def _drawn_together(entries: list[Entry]) -> Iterator[Entry]:
    """Free places with nothing between them as one, while nobody is to be put in one."""
    for is_free, run in groupby(entries, key=lambda entry: entry.place is not None):
        if not is_free:
            yield from run
            continue
        places = list(run)
        total = sum(entry.places for entry in places)
        yield replace(places[0], places=total, ends=places[-1].ends)


def week_sentence(week: Week) -> str:
    """The answer first: what is left, and who still needs a place."""
    left = ngettext("%(n)d place left", "%(n)d places left", week.free) % {"n": week.free}
    need = ngettext("%(n)d check still needs one", "%(n)d checks still need one", week.waiting_count)
    free = left if week.free else _("No place left")
    return f"{free}. {need % {'n': week.waiting_count}}." if week.waiting_count else f"{free}."


def span_words(week: Week, shop: Shop) -> str:
    return f"{formats.day_and_month(week.first, shop)} – {formats.day_and_month(week.last, shop)}"
