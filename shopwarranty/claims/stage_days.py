"""How many days each stage of a claim may take: the shop's own where it has said so, else the usual ones."""

from collections.abc import Mapping
from datetime import date, datetime

from django.db import models, transaction

from shopwarranty.shops.history import Actor, record_change
from shopwarranty.shops.models import Shop
from shopwarranty.shops.rows import ShopOwned, one_of

from .models import ClaimState
from .stages import DAYS, due_after

MOST_DAYS = 365


class StageDays(ShopOwned):
    """One stage's days in one shop. Where there is no row, `stages.DAYS` holds."""

    state = models.CharField(max_length=13, choices=ClaimState.choices)
    days = models.PositiveSmallIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["shop", "state"], name="claim_stage_days_once"),
            one_of("claim_stage_days", "state", ClaimState),
            models.CheckConstraint(
                condition=models.Q(days__lte=MOST_DAYS), name="claim_stage_days_within_a_year"
            ),
        ]


def days_by_stage() -> dict[str, int]:
    """Of the shop in scope, in the order of the stages. One query."""
    own = dict(StageDays.objects.values_list("state", "days"))
    return {str(state): own.get(str(state), days) for state, days in DAYS.items()}


def due_here(state: str, now: datetime, shop: Shop) -> date | None:
    """The shop's day by which the stage that begins now should be over; None for a closed claim."""
    own = StageDays.objects.filter(state=state).values_list("days", flat=True).first()
    return due_after(state, now.astimezone(shop.zone).date(), own)


@transaction.atomic
def set_stage_days(*, days: Mapping[str, int], actor: Actor, now: datetime) -> int:
    """Counts for stages that begin from now on; what is due already stays due. Gives how many changed."""
    before = days_by_stage()
    changed = {state: count for state, count in days.items() if before.get(state) != count}
    for state, count in changed.items():
        row, _new = StageDays.objects.update_or_create(state=state, defaults={"days": count})
        was, is_now = {state: before[state]}, {state: count}
        record_change(row=row, act="days of a claim's stage", actor=actor, at=now, before=was, after=is_now)
    return len(changed)
