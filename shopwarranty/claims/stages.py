"""The stages of a claim, which act leads where, and how long each should last.

Receipt, acknowledgement, assessment, decision, telling, remedy, closing: the stages of ISO 10002 (restated).
How many days each should take is common practice, no source.
"""

from datetime import date, timedelta
from typing import Final

from .models import Claim

State = Claim.State
OPEN: Final = (
    State.RECEIVED,
    State.ACKNOWLEDGED,
    State.IN_ASSESSMENT,
    State.DECIDED,
    State.TOLD,
    State.REMEDIED,
    State.REOPENED,
)
DAYS: Final = {
    State.RECEIVED: 1,
    State.ACKNOWLEDGED: 3,
    State.REOPENED: 3,
    State.IN_ASSESSMENT: 14,
    State.DECIDED: 2,
    State.TOLD: 30,
    State.REMEDIED: 14,
}
BEFORE: Final[dict[str, tuple[str, ...]]] = {
    State.ACKNOWLEDGED: (State.RECEIVED,),
    State.IN_ASSESSMENT: (State.ACKNOWLEDGED, State.REOPENED),
    State.DECIDED: (State.IN_ASSESSMENT,),
    State.TOLD: (State.DECIDED,),
    State.REMEDIED: (State.TOLD,),
    State.CLOSED: (State.TOLD, State.REMEDIED),
    State.REOPENED: (State.TOLD, State.REMEDIED, State.CLOSED),
}


def due_after(state: str, on: date, own: int | None = None) -> date | None:
    """The day by which the stage that begins on `on` should be over; None for a closed claim.

    `own`: the shop's days for that stage, where it has said so.
    """
    days = own if own is not None else DAYS.get(State(state))
    return on + timedelta(days=days) if days is not None else None
