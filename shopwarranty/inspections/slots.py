"""Free times for a check: opening hours with breaks, closed days, lanes, lead time, days ahead.

A slot is a wall time with its zone and the moment it stands for. What a slot takes is a set of units: the
quarter hours (UTC) of its lane. A unique row for each unit makes overbooking impossible, whoever asks when.
Times that happen twice or not at all are never offered, nor is a slot the clock change falls into.
"""

from collections.abc import Collection, Container, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from shopwarranty.inspections.wall_clock import is_plain, moment_of, wall_time_of, zone_named

QUARTER: Final = timedelta(minutes=15)


@dataclass(frozen=True, slots=True, order=True)
class Stretch:
    """One stretch of opening on a day, wall time; a lunch break makes two."""

    opens: time
    closes: time

    def __post_init__(self) -> None:
        if self.opens >= self.closes:
            raise ValueError("a stretch of opening ends after it begins, on the same day")


@dataclass(frozen=True, slots=True)
class OpenTimes:
    """Stretches by weekday (0 = Monday), days closed, and days with hours of their own (these come first)."""

    weekly: tuple[tuple[int, Stretch], ...]
    closed: Container[date] = frozenset()
    special: tuple[tuple[date, Stretch], ...] = ()

    def __post_init__(self) -> None:
        if any(not 0 <= weekday <= 6 for weekday, _ in self.weekly):
            raise ValueError("weekdays are 0 (Monday) to 6 (Sunday)")

    def stretches(self, day: date) -> tuple[Stretch, ...]:
        """The day's stretches in order, those that touch or overlap joined; empty when closed."""
        own = [stretch for on, stretch in self.special if on == day]
        if own:
            return _joined(own)
        if day in self.closed:
            return ()
        return _joined(stretch for weekday, stretch in self.weekly if weekday == day.weekday())

    def is_open(self, day: date) -> bool:
        return bool(self.stretches(day))


@dataclass(frozen=True, slots=True)
class BookingRules:
    """How checks are booked: zone name, minutes of a check, lanes (bay positions), lead time, start grid.

    `lane_hours`: lane, weekday and stretch; a lane named there takes checks only then, the others always.
    """

    zone: str
    minutes: int
    lanes: tuple[int, ...]
    lead: timedelta = timedelta(0)
    days_ahead: int = 60
    grid_minutes: int = 15
    lane_hours: tuple[tuple[int, int, Stretch], ...] = ()

    def __post_init__(self) -> None:
        if self.minutes <= 0 or self.grid_minutes <= 0 or self.grid_minutes % 15:
            raise ValueError("a check takes time, and starts lie on a grid of quarter hours")
        if self.lead < timedelta(0) or self.days_ahead < 0:
            raise ValueError("lead time and days ahead cannot be negative")
        if len(set(self.lanes)) != len(self.lanes):
            raise ValueError("each lane is named once")

    def lane_takes(self, lane: int, start: datetime) -> bool:
        """Whether the lane takes a check that starts at this wall time."""
        own = [(weekday, stretch) for each, weekday, stretch in self.lane_hours if each == lane]
        end = start + timedelta(minutes=self.minutes)
        return not own or any(
            weekday == start.weekday()
            and datetime.combine(start, stretch.opens) <= start
            and end <= datetime.combine(start, stretch.closes)
            for weekday, stretch in own
        )


@dataclass(frozen=True, slots=True, order=True)
class Unit:
    """A quarter hour (its UTC start, aware) of one lane: the key of a unique row."""

    quarter: datetime
    lane: int


@dataclass(frozen=True, slots=True, order=True)
class Slot:
    """A bookable time: `starts_local` is naive wall time in `zone`, `starts_utc` the moment it stands for."""

    starts_local: datetime
    zone: str = field(compare=False)
    starts_utc: datetime = field(compare=False)
    minutes: int
    lane: int

    @property
    def ends_utc(self) -> datetime:
        return self.starts_utc + timedelta(minutes=self.minutes)

    @property
    def ends_local(self) -> datetime:
        return wall_time_of(self.ends_utc, ZoneInfo(self.zone))


def slot_at(starts_local: datetime, *, zone: str, minutes: int, lane: int) -> Slot:
    """A slot at exactly that wall time; raises WallTimeProblem when the clock change makes it unclear.

    Says nothing about opening hours or whether it is free.
    """
    where = zone_named(zone)
    starts = moment_of(starts_local, where)
    moment_of(wall_time_of(starts + timedelta(minutes=minutes), where), where)
    return Slot(starts_local, zone, starts, minutes, lane)


def units_of(slot: Slot) -> tuple[Unit, ...]:
    """The quarter hours the slot touches, in order; a started quarter is taken whole."""
    quarter = _quarter_at(slot.starts_utc)
    found = []
    while quarter < slot.ends_utc:
        found.append(Unit(quarter, slot.lane))
        quarter += QUARTER
    return tuple(found)


def is_free(slot: Slot, taken: Collection[Unit]) -> bool:
    """True when no unit of the slot is taken."""
    return not any(unit in taken for unit in units_of(slot))


def free_slots(
    hours: OpenTimes,
    rules: BookingRules,
    *,
    taken: Iterable[Unit],
    now: datetime,
    first_day: date,
    last_day: date,
) -> Iterator[Slot]:
    """Every free slot (each lane its own) from `first_day` to `last_day`, in order of time, then lane.

    `now` is aware: nothing starts before `now` + lead, nor later than `days_ahead` days from today there.
    `taken` holds the units of standing bookings; to move a booking leave its own units out.
    """
    zone, gone = zone_named(rules.zone), frozenset(taken)
    today = wall_time_of(now, zone).date()
    day, last = max(first_day, today), min(last_day, today + timedelta(days=rules.days_ahead))
    while day <= last:
        for start in starts_on(hours, rules, day):
            if moment_of(start, zone) >= now + rules.lead:
                yield from _free_lanes(start, rules, gone)
        day += timedelta(days=1)


def starts_on(hours: OpenTimes, rules: BookingRules, day: date) -> Iterator[datetime]:
    """Wall times on that day at which a check may start and be over before the stretch closes."""
    zone = zone_named(rules.zone)
    for stretch in hours.stretches(day):
        start, closes = datetime.combine(day, stretch.opens), datetime.combine(day, stretch.closes)
        while start + timedelta(minutes=rules.minutes) <= closes:
            if _undisturbed(start, rules.minutes, zone):
                yield start
            start += timedelta(minutes=rules.grid_minutes)


def first_lane_each(slots: Iterable[Slot]) -> Iterator[Slot]:
    """One slot for each start, in the first lane that is free: what a holder is offered."""
    before: datetime | None = None
    for slot in slots:
        if slot.starts_local != before:
            yield slot
        before = slot.starts_local


def may_be_booked(slot: Slot, hours: OpenTimes, rules: BookingRules, *, now: datetime) -> bool:
    """Whether the rules offer this slot at `now`; whether it is still free is another question."""
    day = slot.starts_local.date()
    offered = free_slots(hours, rules, taken=(), now=now, first_day=day, last_day=day)
    return slot in offered


def extra_lane(slot: Slot, rules: BookingRules, *, taken: Collection[Unit]) -> Slot:
    """The same time in the first free lane past the shop's last one: staff beyond capacity, with a reason."""
    lane = max(rules.lanes, default=0) + 1
    while True:
        beyond = Slot(slot.starts_local, slot.zone, slot.starts_utc, slot.minutes, lane)
        if is_free(beyond, taken):
            return beyond
        lane += 1


def _free_lanes(start: datetime, rules: BookingRules, taken: Collection[Unit]) -> Iterator[Slot]:
    starts_utc = moment_of(start, zone_named(rules.zone))
    for lane in sorted(rules.lanes):
        slot = Slot(start, rules.zone, starts_utc, rules.minutes, lane)
        if rules.lane_takes(lane, start) and is_free(slot, taken):
            yield slot


def _undisturbed(start: datetime, minutes: int, zone: ZoneInfo) -> bool:
    """No clock change touches it: both ends happen once, as far apart on the wall as in truth."""
    end = start + timedelta(minutes=minutes)
    if not (is_plain(start, zone) and is_plain(end, zone)):
        return False
    return moment_of(end, zone) - moment_of(start, zone) == end - start


def _quarter_at(moment: datetime) -> datetime:
    return moment - timedelta(
        minutes=moment.minute % 15, seconds=moment.second, microseconds=moment.microsecond
    )


def _joined(stretches: Iterable[Stretch]) -> tuple[Stretch, ...]:
    found: list[Stretch] = []
    for stretch in sorted(stretches):
        if found and stretch.opens <= found[-1].closes:
            found[-1] = Stretch(found[-1].opens, max(found[-1].closes, stretch.closes))
        else:
            found.append(stretch)
    return tuple(found)
