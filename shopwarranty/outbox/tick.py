"""What the worker does once a minute. The queue only wakes us; each step asks the database what is due.

A room adds its step in `AppConfig.ready`: `tick.add_step("checks", settle_overdue)`. Steps get the moment,
run one after the other, and one that fails neither stops nor hides the others.
"""

import logging
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone

from .delivery import deliver_due
from .models import Heartbeat

log = logging.getLogger(__name__)
Step = Callable[[datetime], object]
_steps: dict[str, Step] = {}


@dataclass(frozen=True, slots=True)
class StepResult:
    name: str
    ok: bool
    said: str


def add_step(name: str, step: Step) -> None:
    _steps[name] = step


def run(now: datetime) -> tuple[StepResult, ...]:
    """One pass: the rooms' steps first, so that what they put in the outbox goes out in the same pass."""
    results = tuple(run_step(name, step, now) for name, step in [*_steps.items(), ("messages", deliver_due)])
    failed = ", ".join(result.name for result in results if not result.ok)
    beat("tick", now, f"failed: {failed}" if failed else "")
    return results


def run_step(name: str, step: Step, now: datetime) -> StepResult:
    try:
        return StepResult(name, True, str(step(now)))
    except Exception as error:
        log.exception("step %s of the tick failed", name)
        return StepResult(name, False, f"{type(error).__name__}: {error}")


def beat(name: str, now: datetime, note: str = "") -> None:
    Heartbeat.objects.update_or_create(name=name, defaults={"at": now, "note": note[:160]})


def tick_now() -> None:
    """What the queue's schedule calls."""
    run(timezone.now())
