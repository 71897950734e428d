"""The shop of the rounds with kills, and the reckoning at their end: what was told, to whom, how often."""

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

from django.test import Client
from django.utils import timezone

from shopwarranty.inspections.actions import add_usual_check_plans
from shopwarranty.inspections.holder.links import holder_links
from shopwarranty.inspections.models import BookedQuarter, Booking, Check, CheckPlan, CheckRules
from shopwarranty.outbox import tick
from shopwarranty.outbox.channels.mail import message_id
from shopwarranty.outbox.models import UNCERTAIN_AFTER, Message
from shopwarranty.shops.scope import every_shop, shop_scope
from tests import builders as b
from tests.conftest import make_shop

DAYS, HOURS = 8, range(9, 16)
SOON = 6
"""Days until the first of them: no reminder falls due while everything settles, at whatever time of day."""
SETTLING = (timedelta(minutes=1), timedelta(minutes=40), timedelta(hours=3), timedelta(hours=8))


@dataclass(frozen=True, slots=True)
class Guest:
    """A holder with a check and the address of his own page."""

    check: int
    page: str

    def path(self, act: str = "") -> str:
        return f"{self.page}check/{self.check}/{act}"


@dataclass(slots=True)
class Wish:
    """What the web server said last about a guest's time. `unsure`: an answer was lost since."""

    starts: str = ""
    unsure: bool = False


@dataclass(slots=True)
class Tally:
    """The figures printed, and what is wrong."""

    counts: dict[str, int] = field(default_factory=dict)
    wrong: list[str] = field(default_factory=list)

    def lines(self) -> Iterator[str]:
        yield "; ".join(f"{name}={count}" for name, count in self.counts.items())
        yield from (f"WRONG: {each}" for each in self.wrong)


def make_killed_shop(guests: int) -> tuple[Any, list[Guest]]:
    """Holders with a mail address and a check each, whose window has not opened yet."""
    people = make_shop(
        "killed", name="Kiln Lane Film", email="desk@kiln.example", time_zone="America/New_York"
    )
    now = timezone.now()
    with shop_scope(people.shop):
        add_usual_check_plans(people.shop)
        CheckRules.objects.create(send_from=time(0), send_until=time(23, 59, 59, 999999))
        plan = CheckPlan.objects.get(key="two-week")
        checks = [made(plan, now) for _ in range(guests)]
        pairs = [(check.job.vehicle, check.job.vehicle.holdings.get().party) for check in checks]
        links = holder_links(pairs, now=now)
    return people, [
        Guest(check.pk, path_in(links[vehicle.pk, party.pk]))
        for check, (vehicle, party) in zip(checks, pairs, strict=True)
    ]


def made(plan: CheckPlan, now: datetime) -> Check:
    job = b.a_job(panels=(), handed_over_on=now.date())
    return b.a_check(job, plan=plan, due_on=now.date() + timedelta(days=40))


def path_in(address: str) -> str:
    return "/" + address.split("/", 3)[3]


def open_windows(checks: list[int], today: date) -> None:
    with every_shop():
        Check.objects.filter(pk__in=checks).update(
            window_from=today - timedelta(days=1), due_on=today + timedelta(days=5)
        )


def times_wanted(today: date) -> list[str]:
    """Starts that stand in each other's way, in the one bay."""
    days = (today + timedelta(days=n) for n in range(SOON, SOON + DAYS))
    return [
        f"{day:%Y-%m-%d}T{hour:02}:{minute:02}"
        for day in days
        if day.weekday() < 5
        for hour in HOURS
        for minute in (0, 15, 30, 45)
    ]


def settle_all() -> None:
    """What the worker does after the last kill, until nothing is due: it parks what nobody knows about."""
    began = timezone.now() + UNCERTAIN_AFTER
    for later in SETTLING:
        for _ in range(50):
            tick.run(began + later)
            with every_shop():
                if not Message.objects.due(began + later).exists():
                    break


def reckon(people: Any, wishes: dict[int, Wish], mails: Path) -> Tally:
    taken = Counter(mails.read_text().split()) if mails.exists() else Counter[str]()
    tally = Tally()
    with shop_scope(people.shop):
        of_messages(tally, taken)
        of_bookings(tally, wishes)
        of_checks(tally)
        tally.wrong += shown_to_staff(people)
    return tally


def of_messages(tally: Tally, taken: Counter[str]) -> None:
    rows = {message_id(row): row for row in Message.objects.select_related("shop")}
    states = Counter(row.state for row in rows.values())
    known = sum(taken[name] > 0 for name, row in rows.items() if row.state == Message.State.PARKED)
    tally.counts |= {"messages": len(rows), "taken_by_server": taken.total(), **dict(sorted(states.items()))}
    tally.counts |= {"parked_but_taken": known, "told_twice": sum(taken.values()) - len(taken)}
    told = (Message.State.SENT, Message.State.PARKED)
    tally.wrong += [f"{name} was told {n} times" for name, n in taken.items() if n > 1]
    tally.wrong += [f"{name} is no message of ours" for name in taken if name not in rows]
    for name, row in rows.items():
        if row.state == Message.State.SENT and not taken[name]:
            tally.wrong.append(f"{row.key} counts as sent and never arrived")
        if taken[name] and row.state not in told:
            tally.wrong.append(f"{row.key} arrived and counts as {row.state}")
        if row.state in (Message.State.SENDING, Message.State.WAITING, Message.State.FAILED):
            tally.wrong.append(f"{row.key} is left {row.state}: {row.error}")


def of_bookings(tally: Tally, wishes: dict[int, Wish]) -> None:
    bookings = list(Booking.objects.all())
    standing = {row.check_due_id: row for row in bookings if row.state == Booking.State.BOOKED}
    tally.counts |= {"bookings": len(bookings), "standing": len(standing)}
    tally.counts |= {"answers_lost": sum(wish.unsure for wish in wishes.values())}
    keys = set(Message.objects.values_list("key", flat=True))
    told = {key.rpartition(":")[0] for key in keys}
    tally.wrong += [f"booking {row.pk} was never told of" for row in bookings if not told & promised(row)]
    taken = Counter(BookedQuarter.objects.values_list("lane", "quarter"))
    tally.wrong += [f"{place} is taken {n} times" for place, n in taken.items() if n > 1]
    tally.wrong += overlapping(list(standing.values()))
    for check, wish in wishes.items():
        starts = standing[check].starts_local if check in standing else ""
        if not wish.unsure and starts != wish.starts:
            tally.wrong.append(f"check {check} stands at {starts!r}; the web server said {wish.starts!r}")


def promised(row: Booking) -> set[str]:
    """Calling it off raised the sequence it was promised with."""
    gone = row.state in (Booking.State.CANCELLED_HOLDER, Booking.State.CANCELLED_SHOP)
    return {f"booking:{row.uid.hex}:v{n}" for n in (row.sequence, row.sequence - gone)}


def overlapping(standing: list[Booking]) -> list[str]:
    """Looked at from outside the quarters that are to prevent it."""
    rows = sorted(standing, key=lambda row: (row.lane, row.starts_at))
    return [
        f"bookings {one.pk} and {two.pk} overlap"
        for one, two in pairwise(rows)
        if one.lane == two.lane and two.starts_at < one.starts_at + timedelta(minutes=one.minutes)
    ]


def of_checks(tally: Tally) -> None:
    """Due ones were offered in writing (with the message), or have a time, or had one."""
    open_now = Check.objects.filter(window_from__lte=timezone.now().date())
    keys = set(Message.objects.filter(key__endswith=":offer").values_list("key", flat=True))
    offered = {int(key.split(":")[1]) for key in keys}
    had_a_time = set(Booking.objects.values_list("check_due", flat=True))
    lost = [row.pk for row in open_now if row.pk not in offered | had_a_time]
    unsaid = open_now.filter(offered_at__isnull=False).exclude(pk__in=offered)
    tally.counts |= {"checks_due": open_now.count(), "offered": len(offered)}
    tally.wrong += [f"check {pk} is forgotten" for pk in lost]
    tally.wrong += [f"check {row.pk} counts as offered and is not" for row in unsaid]


def shown_to_staff(people: Any) -> list[str]:
    """Every parked message stands on the page of those that need a look."""
    client = Client()
    client.force_login(people.desk.user)
    parked = set(Message.objects.filter(state=Message.State.PARKED).values_list("pk", flat=True))
    seen: set[int] = set()
    for page in range(1, 2 + len(parked) // 50):
        address = f"/s/{people.shop.slug}/messages/?show=stuck&page={page}"
        answer = client.get(address, headers={"host": "localhost"})
        seen |= {int(pk) for pk in re.findall(r"/messages/(\d+)/", answer.content.decode())}
    return [f"message {pk} is parked and not shown" for pk in parked - seen]
