"""A year of checks, day by day, against an oracle that knows nothing of the program."""

import random
from collections import Counter
from datetime import date, datetime, timedelta
from typing import Any

import pytest

from shopwarranty.inspections.models import Booking, Check
from shopwarranty.outbox import delivery, tick
from shopwarranty.outbox.models import Message
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import ClosedDay
from tests.inspections.year import Oracle, Year, add_plans

SEED = 20261125
STEPS = ("checks", "offers", "reminders", "missed appointments", "results")
# Clocks of New York: back on 2026-11-01, forward on 2027-03-14 (second Sunday of March, first of November).
CHANGES = (date(2026, 11, 1), date(2027, 3, 14))


def about_checks(now: datetime) -> None:
    for name in STEPS:
        tick._steps[name].act(now)
    delivery.deliver_due(now)


def whole_tick(now: datetime) -> None:
    failed = [each for each in tick.run(now) if not each.ok]
    assert not failed, failed


def play(ours: Any, seed: int, begins: date, days: int, jobs: int, steps: Any) -> Year:
    assert all(begins < change < begins + timedelta(days=days) for change in CHANGES)
    add_plans(ours.shop)
    year = Year(ours.shop, Actor.of(ours.desk), random.Random(seed), begins, days, jobs, steps)
    year.run()
    return year


def must_be_as_the_oracle_says(year: Year) -> Counter[str]:
    expected = Oracle(year.checks, year.begins, year.days).ask()
    zone = year.shop.zone
    offers = set(Message.objects.filter(key__endswith=":offer").values_list("about", flat=True))
    not_kept = Counter(
        Booking.objects.filter(state=Booking.State.NOT_KEPT).values_list("check_due", flat=True)
    )
    for check in Check.objects.filter(pk__in=expected):
        end, one = expected[check.pk], year.checks[check.pk]
        settled = check.settled_at.astimezone(zone).date() if check.settled_at else None
        assert (check.state, settled) == (end.state, end.on), one
        assert (f"check:{check.pk}" in offers) == end.offered, one
        assert not_kept[check.pk] == end.not_kept, one
        assert reminders_of(check) == end.reminded, one
    return Counter(end.state for end in expected.values())


def reminders_of(check: Check) -> set[date]:
    """Days of the times that holders were reminded of on the day before; calling off raises the sequence."""
    called_off = (Booking.State.CANCELLED_HOLDER, Booking.State.CANCELLED_SHOP)
    times = {
        f"{row.uid.hex}:v{row.sequence - (row.state in called_off)}": row.starts_local[:10]
        for row in check.bookings.all()
    }
    keys = Message.objects.filter(key__endswith=":reminder:1d").values_list("key", flat=True)
    known = (key.removeprefix("booking:").removesuffix(":reminder:1d") for key in keys)
    return {date.fromisoformat(times[key]) for key in known if key in times}


def must_have_left_in_hours(year: Year) -> None:
    sent = Message.objects.filter(state=Message.State.SENT)
    assert sent.exists()
    for row in sent:
        assert row.settled_at is not None
        local = row.settled_at.astimezone(year.shop.zone)
        assert 8 <= local.hour < 20, (row.key, local)
    assert not Message.objects.filter(state__in=["waiting", "sending", "parked", "failed"]).exists()


def must_be_on_open_days(year: Year) -> None:
    closed = set(ClosedDay.objects.values_list("on", flat=True))
    for row in Booking.objects.all():
        local = datetime.fromisoformat(row.starts_local)
        assert local.date() not in closed and local.weekday() < 5 and 8 <= local.hour < 17, row.starts_local


def test_a_simulated_winter_ends_as_the_oracle_says(ours: Any) -> None:
    year = play(ours, SEED, date(2026, 10, 28), 150, 16, about_checks)
    assert set(must_be_as_the_oracle_says(year)) == {"done", "missed", "waived"}
    must_have_left_in_hours(year)
    must_be_on_open_days(year)


@pytest.mark.long
def test_a_simulated_year_of_500_jobs_ends_as_the_oracle_says(ours: Any) -> None:
    year = play(ours, SEED, date(2026, 6, 1), 400, 500, whole_tick)
    ended = must_be_as_the_oracle_says(year)
    print(f"checks={ended.total()}; " + "; ".join(f"{state}={n}" for state, n in sorted(ended.items())))
    assert set(ended) == {"done", "missed", "waived"}
    must_have_left_in_hours(year)
    must_be_on_open_days(year)
