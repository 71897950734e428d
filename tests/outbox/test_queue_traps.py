"""Traps of the queue, measured with django-q2 1.11, and what holds them off. The queue only wakes us: none of
them can lose a message or tell anybody twice.
"""

import ast
import inspect
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.conf import settings as real_settings
from django.core.management import call_command
from django.db import connections
from django_q.conf import Conf
from django_q.models import OrmQ, Schedule
from django_q.signing import SignedPackage
from django_q.tasks import async_task

from shopwarranty.outbox import apps, checks, delivery, tick
from shopwarranty.outbox.actions import put_message
from shopwarranty.outbox.models import Message
from tests.conftest import NOW, ShopPeople

TICK = "shopwarranty.outbox.tick.tick_now"


def problems(**changed: Any) -> set[str]:
    return {each.id or "" for each in checks.queue_problems({**real_settings.Q_CLUSTER, **changed})}


def test_the_settings_of_the_queue_are_sound() -> None:
    assert problems() == set()


@pytest.mark.parametrize("retry", [4, 120, 0])
def test_a_task_longer_than_retry_would_run_again_so_retry_is_far_above_the_timeout(retry: int) -> None:
    """A ten-second task with retry 4 ran three times; retry = timeout gives no warning of its own."""
    assert problems(retry=retry) == {"outbox.E010"}


def test_without_a_timeout_a_task_could_hang_for_ever() -> None:
    assert "outbox.E010" in problems(timeout=None)


@pytest.mark.parametrize("attempts", [0, None])
def test_without_max_attempts_an_exception_is_retried_for_ever(attempts: int | None) -> None:
    assert problems(max_attempts=attempts) == {"outbox.E011"}


def test_failures_are_acknowledged_or_they_come_back() -> None:
    assert problems(ack_failures=False) == {"outbox.E011"}


def test_missed_schedules_are_not_caught_up_one_run_a_pass() -> None:
    assert problems(catch_up=True) == {"outbox.E012"}
    assert Conf.CATCH_UP is False


def test_a_broker_on_another_alias_would_repeat_schedules() -> None:
    assert problems(orm="other") == {"outbox.E013"}
    assert Conf.ORM == "default" and set(connections) == {"default"}


@pytest.mark.django_db
@pytest.mark.parametrize(
    "broken", [{"schedule_type": Schedule.CRON, "cron": "not a cron line"}, {"args": "(1, open('x'))"}]
)
def test_one_malformed_schedule_row_would_stop_all_so_a_check_names_it(broken: dict[str, str]) -> None:
    assert checks.schedule_problems("default") == []
    Schedule.objects.bulk_create([Schedule(name="broken", func=TICK, **broken)])
    assert [each.id for each in checks.schedule_problems("default")] == ["outbox.W014"]


@pytest.mark.django_db
def test_the_only_schedule_is_the_one_that_wakes_us_every_minute() -> None:
    """MONTHLY from the 31st sticks at the 28th and DAILY drifts at clock changes: no check is a schedule."""
    for _ in range(2):
        apps.schedule_tick("default")
    row = Schedule.objects.get()
    assert (row.name, row.func, row.schedule_type, row.minutes) == ("tick", TICK, Schedule.MINUTES, 1)
    assert (row.repeats, row.args or "", row.kwargs or "") == (-1, "", "")


@pytest.mark.django_db
def test_nothing_of_ours_makes_a_schedule_beyond_that_one() -> None:
    found = [path for path in python_files() if makes_schedules(path.read_text())]
    assert [path.name for path in found] == ["apps.py"]


def python_files() -> list[Any]:
    return [
        path
        for path in (real_settings.BASE_DIR / "shopwarranty").rglob("*.py")
        if "migrations" not in path.parts
    ]


def makes_schedules(source: str) -> bool:
    names = {
        alias.name
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("django_q")
        for alias in node.names
    }
    return bool(names & {"Schedule", "schedule", "async_task", "tasks"}) and "get_or_create" in source


@pytest.mark.django_db
def test_what_goes_into_the_queue_is_a_name_and_no_row() -> None:
    """Payloads are signed pickles: whoever could write one could run anything, and rows in them grow old."""
    async_task(TICK)
    task = SignedPackage.loads(OrmQ.objects.get().payload)
    assert (task["func"], task["args"]) == (TICK, ())
    assert list(inspect.signature(tick.tick_now).parameters) == []


def test_a_task_that_runs_again_or_twice_at_once_tells_nobody_twice(ours: ShopPeople) -> None:
    """A dying worker ignores max_attempts and leaves no record: a pass may run any number of times."""
    put_message(key="k", to="owner1@example.com", subject="S", text="T", now=NOW)
    rows = list(Message.objects.all())
    assert [delivery.claim(row, NOW) for row in rows * 3] == [True, False, False]


@pytest.mark.django_db
def test_a_night_without_a_worker_is_made_good_by_one_pass(ours: ShopPeople) -> None:
    for n in range(5):
        put_message(
            key=f"k{n}", to="owner1@example.com", subject="S", text="T", now=NOW - timedelta(hours=2 * n)
        )
    assert delivery.deliver_due(NOW).sent == 5


@pytest.mark.django_db
def test_the_command_for_cron_needs_no_queue(ours: ShopPeople) -> None:
    call_command("tick", verbosity=0)
    assert OrmQ.objects.count() == 0


def test_every_minute_of_the_hour_change_is_one_minute() -> None:
    """MINUTES counts elapsed time: across New York's clock change (2026-11-01 06:00 UTC) too."""
    row = Schedule(schedule_type=Schedule.MINUTES, minutes=1)
    before = datetime(2026, 11, 1, 5, 59, 30, tzinfo=UTC)
    assert row.calculate_next_run(before) - before == timedelta(minutes=1)
