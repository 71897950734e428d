"""Who was called, what came of it, and when to try again."""

from datetime import datetime, timedelta
from typing import Final

from django.db import transaction

from shopwarranty.jobs.models import Party
from shopwarranty.shops.history import Actor

from ..models import Check, ContactAttempt
from .settling import DECLINED, waive_check

Result = ContactAttempt.Result
REST: Final = {
    Result.REACHED: timedelta(days=7),
    Result.MESSAGE_LEFT: timedelta(days=3),
    Result.NO_ANSWER: timedelta(days=1),
    Result.CALL_AGAIN: timedelta(days=1),
}
"""When somebody is called again if nobody says otherwise. Common practice, no source."""


@transaction.atomic
def note_contact(
    *,
    check: Check,
    result: str,
    actor: Actor,
    now: datetime,
    again_at: datetime | None = None,
    note: str = "",
    how: str = "telephone",
    party: Party | None = None,
) -> ContactAttempt:
    """One try to reach the holder. Who does not want the check is not called about it again."""
    rest = REST.get(Result(result))
    attempt: ContactAttempt = ContactAttempt.objects.create(
        check_due=check,
        vehicle=check.job.vehicle,
        party=party,
        at=now,
        member=actor.member,
        how=how,
        result=result,
        again_at=again_at or (now + rest if rest else None),
        note=note,
    )
    if result == Result.DECLINED and check.state in (Check.State.DUE, Check.State.MISSED):
        waive_check(check=check, why=str(DECLINED), actor=actor, now=now)
    return attempt
