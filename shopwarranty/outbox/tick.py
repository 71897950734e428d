"""What the worker does once a minute. The queue only wakes us; the database is asked what is due.

A room adds its step in `AppConfig.ready`: `tick.add_step("checks", settle_overdue, due=unsettled)`. One query
asks for all steps whether there is something for them (`due`), or whether their time has come again
(`every`); a step with neither runs each time. Steps get the moment, run one after the other, and one that
fails neither stops nor hides the others.
"""

import logging
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import lru_cache
from typing import Any

from django.db import DatabaseError
from django.db.models import QuerySet
from django.utils import timezone

from .delivery import deliver_due, undelivered
from .due import Due, Moment, Question, Rows
from .models import Heartbeat

log = logging.getLogger(__name__)
MESSAGES = "messages"


@dataclass(frozen=True, slots=True)
class Step:
    """`due`: has rows where there is something to do. `every`: how long after it last went well it runs
    again, whatever `due` says."""

    act: Callable[[datetime], object]
    due: Rows | None = None
    every: timedelta | None = None


@dataclass(frozen=True, slots=True)
class StepResult:
    name: str
    ok: bool
    said: str


_steps: dict[str, Step] = {}


def add_step(
    name: str, act: Callable[[datetime], object], *, due: Rows | None = None, every: timedelta | None = None
) -> None:
    _steps[name] = Step(act, due, every)


def run(now: datetime) -> tuple[StepResult, ...]:
    """One pass: the rooms' steps first, so that what they put in the outbox goes out in the same pass."""
    messages = Step(deliver_due, due=undelivered)
    due = _names_due({**_steps, MESSAGES: messages}, now)
    results = [run_step(name, step, now) for name, step in _steps.items() if name in due]
    if results or MESSAGES in due:
        results.append(run_step(MESSAGES, messages, now))
    failed = ", ".join(result.name for result in results if not result.ok)
    beat("tick", now, f"failed: {failed}" if failed else "")
    return tuple(results)


def _names_due(steps: dict[str, Step], now: datetime) -> set[str]:
    """All, where the database does not answer: each step then says so for itself."""
    try:
        return _due_of(tuple(steps.items())).names(now)
    except DatabaseError:
        log.exception("the tick could not ask what is due")
        return set(steps)


@lru_cache(maxsize=1)
def _due_of(steps: tuple[tuple[str, Step], ...]) -> Due:
    return Due({name: Question(step.due, _lately(name, step.every)) for name, step in steps})


def _lately(name: str, every: timedelta | None) -> Rows | None:
    """Not a beat of the time to come either: of a clock that was set back nothing may wait for long."""
    if every is None:
        return None

    def beats() -> "QuerySet[Any]":
        return Heartbeat.objects.filter(name=_beat_of(name), at__gt=Moment() - every, at__lte=Moment())

    return beats


def _beat_of(name: str) -> str:
    return f"step {name}"[:40]


def run_step(name: str, step: Step, now: datetime) -> StepResult:
    try:
        said = str(step.act(now))
    except Exception as error:
        log.exception("step %s of the tick failed", name)
        return StepResult(name, False, f"{type(error).__name__}: {error}")
    if step.every is not None:
        beat(_beat_of(name), now)
    return StepResult(name, True, said)


def beat(name: str, now: datetime, note: str = "") -> None:
    values = {"at": now, "note": note[:160]}
    if not Heartbeat.objects.filter(name=name).update(**values):
        Heartbeat.objects.get_or_create(name=name, defaults=values)


def tick_now() -> None:
    """What the queue's schedule calls."""
    run(timezone.now())
