"""The queue in Redis, by setting: the timetable puts the wake-up there, a worker takes it and the tick runs.

Whole programs and a real server; without one, skipped with words, and a failure where CI=true.
"""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest
from redis import Redis

from shopwarranty.outbox import checks
from shopwarranty.safekeeping import looking_over
from shopwarranty.safekeeping.looking_over import Mark
from tests.conftest import NOW
from tests.safekeeping.test_backup import Command, Home
from tests.safekeeping.test_backup import new_home as new_home
from tests.throwaway_stores import redis_server

pytestmark = [pytest.mark.django_db, pytest.mark.xdist_group("backup")]
BY_THE_TIMETABLE: Command = (
    "python",
    "from django_q.scheduler import scheduler; scheduler()\n"
    "from django_q.models import OrmQ; out.write(str(OrmQ.objects.count()))",
)
HEARD: Command = (
    "python",
    "from shopwarranty.outbox.models import Heartbeat\n"
    "out.write(str(Heartbeat.objects.filter(name='tick').count()))",
)


@pytest.fixture(scope="module")
def queue() -> Iterator[str]:
    with redis_server() as address:
        yield address


@contextmanager
def worker(home: Home) -> Iterator[None]:
    with (home.folder / "worker.log").open("wb") as log:
        running = subprocess.Popen(
            [sys.executable, "-m", "django", "qcluster"],
            env=home.environment,
            stdout=log,
            stderr=log,
            start_new_session=True,
        )
    try:
        yield
    finally:
        os.killpg(running.pid, signal.SIGKILL)
        running.wait()


def test_a_wake_up_in_redis_is_taken_by_the_worker_and_the_tick_runs(
    queue: str, new_home: Callable[[], Home]
) -> None:
    home, redis = new_home().with_settings(SHOPWARRANTY_QUEUE_URL=queue), Redis.from_url(queue)
    _migrated, in_database, before = home.run(("migrate", "-v0"), BY_THE_TIMETABLE, HEARD)
    assert (in_database, before) == ("0", "0")
    (name,) = redis.keys("django_q:*:q")
    assert redis.llen(name) == 1
    deadline = time.monotonic() + 600
    with worker(home):
        while home.run(HEARD) == ["0"]:
            assert time.monotonic() < deadline, (home.folder / "worker.log").read_text()
    assert redis.llen(name) == 0


def test_the_queue_is_looked_at(queue: str, settings: pytest.FixtureRequest) -> None:
    def seen(address: str) -> list[Mark]:
        settings.QUEUE_URL = address  # type: ignore[attr-defined]
        return [each.mark for each in looking_over.queue(NOW)]

    assert seen("") == []
    assert seen(queue) == [Mark.FINE]
    assert seen("redis://127.0.0.1:1/0") == [Mark.WRONG]
    assert seen("no address") == [Mark.WRONG]


def test_a_queue_in_redis_is_no_trap() -> None:
    sound = {"timeout": 120, "retry": 900, "max_attempts": 3, "ack_failures": True, "catch_up": False}
    assert checks.queue_problems({**sound, "redis": "redis://127.0.0.1/0"}) == []
    assert [each.id for each in checks.queue_problems(sound)] == ["outbox.E013"]
