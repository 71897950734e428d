"""What people change about the review."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

from django.db import transaction

from shopwarranty.shops.history import Actor, record_change

from .models import CheckCosts, ClaimsOnRecord

FIELDS = ("caught_early", "caught_late", "minute", "grows_after")


@transaction.atomic
def set_check_costs(
    *,
    caught_early: Decimal,
    caught_late: Decimal,
    minute: Decimal,
    grows_after: int,
    actor: Actor,
    now: datetime,
) -> CheckCosts:
    """The shop's own costs in its currency; one row a shop, every change in its history."""
    row = CheckCosts.objects.select_for_update().first() or CheckCosts()
    before = {name: getattr(row, name) for name in FIELDS} if row.pk else {}
    row.caught_early, row.caught_late, row.minute = caught_early, caught_late, minute
    row.grows_after = grows_after
    after = {name: getattr(row, name) for name in FIELDS}
    if before != after:
        row.save()
        record_change(row=row, act="check costs", actor=actor, at=now, before=before, after=after)
    return row


@transaction.atomic
def set_claims_since(*, since: date, actor: Actor, now: datetime) -> ClaimsOnRecord:
    """One row a shop, every change in its history."""
    row = ClaimsOnRecord.objects.select_for_update().first() or ClaimsOnRecord()
    before = {"since": row.since} if row.pk else {}
    row.since = since
    if before != {"since": since}:
        row.save()
        record_change(
            row=row, act="claims on record", actor=actor, at=now, before=before, after={"since": since}
        )
    return row
