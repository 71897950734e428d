"""What must be right about the settings before anything is sent by them."""

import ast
from collections.abc import Mapping, Sequence
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, Warning, register
from django.core.exceptions import ValidationError

from .channels.hook import NotAllowed, hook_target
from .signing import key_of


@register()
def hooks_are_sound(app_configs: Any, **kwargs: Any) -> list[CheckMessage]:
    """A hook without a host on the list or without a secret would fail only when a message is due."""
    found: list[CheckMessage] = []
    try:
        if hook_target() is not None:
            key_of(settings.TEXT_HOOK_SECRET)
    except NotAllowed as problem:
        found.append(Error(f"SHOPWARRANTY_TEXT_HOOK_URL: {problem}", id="outbox.E001"))
    except ValueError as problem:
        found.append(Error(f"SHOPWARRANTY_TEXT_HOOK_SECRET: {problem}", id="outbox.E002"))
    if settings.BOUNCE_SECRET:
        try:
            key_of(settings.BOUNCE_SECRET)
        except ValueError as problem:
            found.append(Error(f"SHOPWARRANTY_BOUNCE_SECRET: {problem}", id="outbox.E003"))
    return found


@register()
def queue_is_sound(app_configs: Any, **kwargs: Any) -> list[CheckMessage]:
    return queue_problems(settings.Q_CLUSTER)


def queue_problems(queue: Mapping[str, Any]) -> list[CheckMessage]:
    """What django-q2 lets pass and punishes later: tasks that run again, or for ever."""
    timeout, retry = queue.get("timeout") or 0, queue.get("retry") or 0
    wrong = {
        "outbox.E010": not timeout or retry < 2 * timeout,
        "outbox.E011": not queue.get("max_attempts") or not queue.get("ack_failures"),
        "outbox.E012": queue.get("catch_up", True),
        "outbox.E013": not queue.get("redis") and queue.get("orm") != "default",
    }
    why = {
        "outbox.E010": "retry has to be at least twice the timeout, or a long task runs again beside itself",
        "outbox.E011": "without max_attempts and ack_failures a task that fails is tried for ever",
        "outbox.E012": "catch_up runs every wake-up that was missed, one after the other",
        "outbox.E013": "on another database than the default, schedules are repeated",
    }
    return [Error(f"Q_CLUSTER: {why[name]}.", id=name) for name, is_wrong in wrong.items() if is_wrong]


@register(Tags.database)
def schedules_are_sound(
    app_configs: Any, databases: Sequence[str] | None = None, **kwargs: Any
) -> list[CheckMessage]:
    """Looked at by `manage.py migrate` and `manage.py check --database default`."""
    return [found for alias in databases or () for found in schedule_problems(alias)]


def schedule_problems(alias: str) -> list[CheckMessage]:
    """One row that cannot be read stops all of them."""
    from django.db import connections
    from django_q.models import Schedule

    if Schedule._meta.db_table not in connections[alias].introspection.table_names():
        return []
    found: list[CheckMessage] = []
    for row in Schedule.objects.using(alias):
        try:
            row.full_clean(exclude=["task", "cluster"])
            ast.literal_eval(row.args or "()")
        except (ValidationError, ImportError, ValueError, SyntaxError) as problem:
            said = f"The schedule {row.name or row.pk} stops all others: {problem}"
            found.append(Warning(said, hint="Delete the row.", id="outbox.W014"))
    return found
