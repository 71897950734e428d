"""One query says which steps have something to do; the others are left alone."""

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import DatabaseError, connection

from shopwarranty.inspections.models import Check
from shopwarranty.outbox import tick
from shopwarranty.outbox.due import Due, Moment, Question
from shopwarranty.outbox.models import Heartbeat, Message
from shopwarranty.shops.having import shops_having
from tests.builders import TODAY, a_check, a_job
from tests.conftest import NOW, ShopPeople
from tests.outbox.test_delivery import put

MINUTE = timedelta(minutes=1)
pytestmark = pytest.mark.django_db


def names(now: datetime) -> list[str]:
    return [result.name for result in tick.run(now)]


@pytest.mark.postgres
def test_a_minute_in_which_nothing_is_due_costs_two_statements(
    ours: ShopPeople, django_assert_num_queries: Any
) -> None:
    a_check(a_job(panels=()), due_on=TODAY + timedelta(days=90))
    for minutes in (0, 5):
        tick.run(NOW + minutes * MINUTE)
    with django_assert_num_queries(2):
        assert names(NOW + 6 * MINUTE) == []
    assert Heartbeat.objects.get(name="tick").at == NOW + 6 * MINUTE


@pytest.mark.postgres
def test_a_check_whose_window_ends_wakes_its_step_alone_and_only_then(ours: ShopPeople) -> None:
    check = a_check(a_job(panels=()), due_on=TODAY + timedelta(days=1))
    assert check.window_to >= TODAY
    for minutes in (0, 5):
        tick.run(NOW + minutes * MINUTE)
    Check.objects.filter(pk=check.pk).update(offered_at=NOW)
    assert "checks" not in names(NOW + 6 * MINUTE)
    over = NOW + timedelta(days=(check.window_to - TODAY).days + 1)
    assert "checks" in names(over)
    check.refresh_from_db()
    assert check.state == "missed"


def test_what_a_step_puts_goes_out_in_the_same_pass(
    ours: ShopPeople, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tick, "_steps", {"writes": tick.Step(lambda now: put())})
    assert names(NOW) == ["writes", "messages"]
    assert Message.objects.get().state == "sent"


def test_a_step_with_a_span_runs_when_it_is_over_and_again_at_once_after_failing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    ran: list[datetime] = []

    def act(now: datetime) -> None:
        ran.append(now)
        if len(ran) == 1:
            raise ValueError("the first time")

    monkeypatch.setattr(tick, "_steps", {"now and then": tick.Step(act, every=timedelta(hours=1))})
    for minutes in (0, 1, 2, 60, 61, 62):
        tick.run(NOW + minutes * MINUTE)
    assert [round((when - NOW) / MINUTE) for when in ran] == [0, 1, 61]


def test_a_clock_set_back_makes_no_step_wait_for_the_time_it_came_from(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    ran: list[datetime] = []
    monkeypatch.setattr(tick, "_steps", {"now and then": tick.Step(ran.append, every=timedelta(hours=1))})
    tick.run(NOW + timedelta(days=300))
    tick.run(NOW)
    assert ran == [NOW + timedelta(days=300), NOW]


def test_where_asking_fails_every_step_is_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    def gone(due: Due, now: datetime) -> set[str]:
        raise DatabaseError("gone")

    monkeypatch.setattr(Due, "names", gone)
    monkeypatch.setattr(
        tick, "_steps", {"idle": tick.Step(lambda now: 0, due=lambda: Message.objects.filter(pk=-1))}
    )
    assert names(NOW) == ["idle", "messages"]


@pytest.mark.postgres
def test_a_moment_is_bound_when_it_is_asked_for_and_everything_else_is_a_constant(ours: ShopPeople) -> None:
    message = put(key="it's 5 o'clock")
    late = Message.objects.filter(key=message.key, not_before__lte=Moment() - 2 * MINUTE)
    due = Due(
        {
            "late": Question(lambda: shops_having(late)),
            "never": Question(lambda: shops_having(late.filter(pk=-1))),
        }
    )
    assert due.names(message.not_before + MINUTE) == set()
    assert due.names(message.not_before + 2 * MINUTE) == {"late"}
    assert connection.is_usable()
