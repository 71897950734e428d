"""A claim goes from stage to stage: `UPDATE ... WHERE state = old`, with who and when in the history."""

from datetime import datetime
from typing import Any

from shopwarranty.shops.history import Actor, StaleState, move_state

from ..models import Claim
from ..refusals import NotAtThisStage
from ..stage_days import due_here
from ..stages import BEFORE


def move(claim: Claim, to: str, *, actor: Actor, now: datetime, why: str = "", **more: Any) -> None:
    """Raises NotAtThisStage when the claim is elsewhere, or somebody was quicker."""
    due_on = due_here(to, now, claim.shop)
    try:
        move_state(
            claim,
            old=BEFORE[to],
            new=to,
            actor=actor,
            at=now,
            why=why,
            state_since=now,
            due_on=due_on,
            **more,
        )
    except StaleState as stale:
        raise NotAtThisStage from stale


def must_be_at(claim: Claim, *states: str) -> None:
    """Asked with the row held, inside the transaction of the act."""
    held = Claim.objects.select_for_update(of=("self",)).get(pk=claim.pk)
    claim.state = held.state
    if held.state not in states:
        raise NotAtThisStage
