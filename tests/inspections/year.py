"""A year of a shop's checks, day by day: holders who come, stay away, move, call off, walk in, come late.

What happens is drawn beforehand and done by the actions the pages use; the worker's steps run three times a
day, also at night. `story` keeps what was done, day by day, for an oracle that knows nothing of the program.
"""

import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from shopwarranty.inspections import actions
from shopwarranty.inspections.models import Booking, Check, CheckPlan, Visit
from shopwarranty.inspections.opening import free_between, opening_of
from shopwarranty.jobs.models import PanelWork
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import ClosedDay, Shop
from tests import builders as b

DAY = timedelta(days=1)
NIGHT, MORNING, AT_WORK, EVENING = time(0, 30), time(9), time(10), time(21, 30)
KINDS = (
    "ignore",
    "keep",
    "keep",
    "keep",
    "stay away",
    "again",
    "move",
    "cancel",
    "walk in",
    "early",
    "late",
    "waive",
)


@dataclass(frozen=True, slots=True)
class Happened:
    """`what`: booked, moved, cancelled, visited, waived; `on`: the day of the time that was given."""

    day: date
    what: str
    on: date | None = None


@dataclass(slots=True)
class OneCheck:
    job: int
    handed_over: date
    due: date
    opens: date
    closes: date
    story: list[Happened] = field(default_factory=list)


@dataclass(slots=True)
class Year:
    shop: Shop
    actor: Actor
    chance: random.Random
    begins: date
    days: int
    jobs: int
    steps: Callable[[datetime], object]
    checks: dict[int, OneCheck] = field(default_factory=dict)
    agenda: dict[date, list[tuple[str, int]]] = field(default_factory=dict)
    keeps: set[int] = field(default_factory=set)

    def run(self) -> None:
        self.close_days()
        starts: dict[date, int] = {}
        for _ in range(self.jobs):
            day = self.begins + self.chance.randrange(self.days - 130) * DAY
            starts[day] = starts.get(day, 0) + 1
        for n in range(self.days):
            day = self.begins + n * DAY
            self.steps(self.moment(day, NIGHT))
            self.steps(self.moment(day, MORNING))
            for _ in range(starts.get(day, 0)):
                self.hand_over(day)
            for what, pk in self.agenda.pop(day, []):
                self.act(day, what, pk)
            self.steps(self.moment(day, EVENING))

    def moment(self, day: date, at: time) -> datetime:
        return datetime.combine(day, at, tzinfo=self.shop.zone).astimezone(UTC)

    def close_days(self) -> None:
        """One day in twenty, and a fortnight."""
        days = {self.begins + n * DAY for n in range(self.days) if self.chance.random() < 0.05}
        days |= {self.begins + (self.days // 3 + n) * DAY for n in range(14)}
        ClosedDay.objects.bulk_create(ClosedDay(on=day, name="Closed") for day in sorted(days))

    def hand_over(self, day: date) -> None:
        job = b.a_job(handed_over_on=day)
        made = actions.plan_checks(job=job, handed_over_on=day, now=self.moment(day, AT_WORK))
        for check in made:
            if check.plan.key != "handover":
                one = OneCheck(job.pk, day, check.due_on, check.window_from, check.window_to)
                self.checks[check.pk] = one
                self.plan(check.pk, one)

    def plan(self, pk: int, one: OneCheck) -> None:
        kind = self.chance.choice(KINDS)
        first = one.opens + self.chance.randrange(4) * DAY
        whole = (one.closes - one.opens).days
        for day, what in {
            "ignore": (),
            "keep": ((first, "book"),),
            "stay away": ((first, "book"),),
            "again": ((first, "book"), (first + 12 * DAY, "book")),
            "move": ((first, "book"), (first + DAY, "move")),
            "cancel": ((first, "book"), (first + DAY, "cancel")),
            "walk in": ((one.opens + self.chance.randrange(whole + 1) * DAY, "visit"),),
            "early": ((max(one.handed_over, one.opens - 2 * DAY), "visit"),),
            "late": ((one.closes, "book late"),),
            "waive": ((first, "waive"),),
        }[kind]:
            self.put(day, what, pk)
        if kind in ("keep", "move", "late") or (kind == "again" and self.chance.random() < 0.5):
            self.keeps.add(pk)

    def put(self, day: date, what: str, pk: int) -> None:
        self.agenda.setdefault(day, []).append((what, pk))

    def act(self, day: date, what: str, pk: int) -> None:
        check = Check.objects.select_related("shop", "plan", "job__vehicle").get(pk=pk)
        booking = check.bookings.filter(state=Booking.State.BOOKED).first()
        now = self.moment(day, AT_WORK)
        if what in ("book", "book late") and booking is None and check.state in ("due", "missed"):
            self.book(check, day, now, 3 if what == "book late" else self.chance.randrange(1, 9))
        elif what == "move" and booking is not None:
            self.move(booking, day, now)
        elif what == "cancel" and booking is not None:
            actions.cancel_booking(booking=booking, by_holder=True, actor=self.actor, now=now)
            self.tell(pk, day, "cancelled")
        elif what == "waive" and check.state == "due":
            actions.waive_check(check=check, why="sold", actor=self.actor, now=now)
            self.tell(pk, day, "waived")
        elif what == "visit":
            self.visit(check, None, day, now)
        elif what == "come" and booking is not None and booking.starts_local[:10] == day.isoformat():
            self.visit(check, check, day, now)

    def tell(self, pk: int, day: date, what: str, on: date | None = None) -> None:
        self.checks[pk].story.append(Happened(day, what, on))

    def slot(self, now: datetime, first: date) -> Any:
        opening = opening_of(self.shop, 45)
        return next(iter(free_between(self.shop, opening, first, first + 40 * DAY, now=now)))

    def book(self, check: Check, day: date, now: datetime, ahead: int) -> None:
        slot = self.slot(now, day + ahead * DAY)
        actions.book_check(check=check, slot=slot, actor=self.actor, now=now)
        self.given(check.pk, day, "booked", slot)

    def move(self, booking: Booking, day: date, now: datetime) -> None:
        on = date.fromisoformat(booking.starts_local[:10])
        slot = self.slot(now, max(on, day) + 3 * DAY)
        actions.move_booking(booking=booking, slot=slot, actor=self.actor, now=now)
        self.given(booking.check_due_id, day, "moved", slot)

    def given(self, pk: int, day: date, what: str, slot: Any) -> None:
        on = slot.starts_local.date()
        self.tell(pk, day, what, on)
        if pk in self.keeps:
            self.put(on, "come", pk)

    def visit(self, check: Check, of: Check | None, day: date, now: datetime) -> None:
        origin = Visit.Origin.PLANNED if of else Visit.Origin.WALK_IN
        made = actions.start_visit(
            job=check.job, origin=origin, actor=self.actor, now=now, today=day, check=of
        )
        for work in PanelWork.objects.filter(job=check.job):
            actions.sweep_panel(visit=made, panel_work=work, now=now)
        actions.finish_visit(visit=made, actor=self.actor, now=now)
        self.tell(check.pk, day, "came" if of else "walked in")


@dataclass(slots=True)
class Ended:
    """What the oracle expects of one check."""

    state: str = "due"
    on: date | None = None
    offered: bool = False
    not_kept: int = 0
    reminded: set[date] = field(default_factory=set)


class Oracle:
    """The rules in plain words, followed day by day.

    At night: a time of an earlier day that nobody kept is not kept; a check whose window is over and that has
    no time is missed; one in its window without a time is offered, once; who has a time tomorrow, given
    before today, is reminded. By day: what happened, happened. In the evening checks may be offered again.
    """

    def __init__(self, checks: dict[int, OneCheck], begins: date, days: int) -> None:
        self.checks, self.begins, self.days = checks, begins, days
        self.ends = {pk: Ended() for pk in checks}
        self.times: dict[int, tuple[date, date]] = {}  # the day of the time, the day it was given

    def ask(self) -> dict[int, Ended]:
        for n in range(self.days):
            self.live(self.begins + n * DAY)
        return self.ends

    def live(self, day: date) -> None:
        known = [(pk, one) for pk, one in self.checks.items() if one.handed_over <= day]
        for pk, one in known:
            self.night(pk, one, day)
        for pk, one in known:
            for each in (each for each in one.story if each.day == day):
                self.daytime(pk, each, day)
        for pk, one in known:
            self.offer(pk, one, day)

    def night(self, pk: int, one: OneCheck, day: date) -> None:
        end = self.ends[pk]
        if pk in self.times and self.times[pk][0] < day:
            del self.times[pk]
            end.not_kept += 1
        if end.state == "due" and one.closes < day and pk not in self.times:
            end.state, end.on = "missed", day
        self.offer(pk, one, day)
        if pk in self.times and self.times[pk][0] == day + DAY and self.times[pk][1] < day:
            end.reminded.add(self.times[pk][0])

    def offer(self, pk: int, one: OneCheck, day: date) -> None:
        if self.ends[pk].state == "due" and pk not in self.times and one.opens <= day <= one.closes:
            self.ends[pk].offered = True

    def daytime(self, pk: int, each: Happened, day: date) -> None:
        if each.on is not None:
            self.times[pk] = (each.on, day)
        elif each.what == "walked in":
            for other in self.nearest(self.checks[pk].job, day):
                self.done(other, day)
        elif each.what == "came":
            self.done(pk, day)
        else:
            self.times.pop(pk, None)
            if each.what == "waived":
                self.ends[pk].state, self.ends[pk].on = "waived", day

    def nearest(self, job: int, day: date) -> Iterator[int]:
        """The one check of the vehicle whose window holds the day."""
        for pk, one in self.checks.items():
            if one.job == job and one.opens <= day <= one.closes and self.ends[pk].state in ("due", "missed"):
                yield pk
                return

    def done(self, pk: int, day: date) -> None:
        self.ends[pk].state, self.ends[pk].on = "done", day
        self.times.pop(pk, None)


def add_plans(shop: Shop) -> None:
    """Two weeks and three months; the yearly one would end after the year."""
    actions.add_usual_check_plans(shop)
    CheckPlan.objects.filter(key="yearly").update(retired_at=b.NOW)
