"""Stopping what the contract does not need. Confirmations and changes of a booking still go out."""

from datetime import datetime

from django.db import transaction

from shopwarranty.jobs.models import Party
from shopwarranty.outbox.models import Message
from shopwarranty.shops.history import Actor, record_change


@transaction.atomic
def stop_reminders(*, party: Party, actor: Actor, now: datetime) -> None:
    """Twice is as good as once. What still waits to go out and is optional does not go."""
    held = Party.objects.select_for_update().get(pk=party.pk)
    if held.reminders_stopped_at is None:
        _write(held, now, actor, now, "reminders stopped")
    waiting = Message.objects.filter(to=held.email, is_optional=True, state=Message.State.WAITING)
    waiting.exclude(to="").update(state=Message.State.DROPPED, settled_at=now)
    party.reminders_stopped_at = held.reminders_stopped_at


@transaction.atomic
def resume_reminders(*, party: Party, actor: Actor, now: datetime) -> None:
    held = Party.objects.select_for_update().get(pk=party.pk)
    if held.reminders_stopped_at is not None:
        _write(held, None, actor, now, "reminders wanted again")
    party.reminders_stopped_at = None


def _write(party: Party, stopped: datetime | None, actor: Actor, now: datetime, act: str) -> None:
    before = {"reminders_stopped_at": party.reminders_stopped_at}
    party.reminders_stopped_at = stopped
    party.save(update_fields=["reminders_stopped_at"])
    record_change(
        row=party, act=act, actor=actor, at=now, before=before, after={"reminders_stopped_at": stopped}
    )
