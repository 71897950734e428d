"""What is judged about a defect apart from what was seen: its cause, and whether it is there at all."""

from datetime import datetime
from typing import Final

from django.db import transaction

from shopwarranty.shops.history import Actor, StaleState, move_state, record_change
from shopwarranty.trade.words import CAUSES, keys

from ..lives import rebuild_lives
from ..models import Defect, DefectState
from .refusals import NotOpen, UnknownKind

UNKNOWN: Final = "unknown"
OVER: Final = (DefectState.REMEDIED, DefectState.ENDED)


@transaction.atomic
def judge_cause(*, defect: Defect, cause: str, sure: str, actor: Actor, now: datetime) -> Defect:
    """What it came from, and how sure that is. "Not known" is an answer; empty takes the judgement back.

    Never changes whether the defect counts as a failure of the work.
    """
    if cause and (cause not in keys(CAUSES) or sure not in Defect.Sure.values):
        raise UnknownKind(cause)
    before = {"cause": defect.cause, "sure": defect.cause_sure}
    defect.cause, defect.cause_sure = cause, sure if cause else ""
    defect.cause_judged_by = actor.member if cause else None
    defect.cause_judged_at = now if cause else None
    defect.save(update_fields=["cause", "cause_sure", "cause_judged_by", "cause_judged_at"])
    after = {"cause": defect.cause, "sure": defect.cause_sure}
    record_change(row=defect, act="cause judged", actor=actor, at=now, before=before, after=after)
    return defect


@transaction.atomic
def verify(*, defect: Defect, found_again: bool, actor: Actor, now: datetime, why: str = "") -> Defect:
    """Somebody looked again. What cannot be found again stays listed, out of every rate. Raises NotOpen."""
    state = Defect.State.OPEN if found_again else Defect.State.NOT_REPRODUCED
    try:
        move_state(
            defect,
            old=(Defect.State.OPEN, Defect.State.NOT_REPRODUCED),
            new=state,
            actor=actor,
            at=now,
            why=why,
            verified=found_again,
            verified_by_id=actor.member.pk if actor.member else None,
            verified_at=now,
        )
    except StaleState as stale:
        raise NotOpen from stale
    rebuild_lives([defect.place.piece.panel_work.job_id])
    return defect


@transaction.atomic
def never_there(*, defect: Defect, actor: Actor, now: datetime, why: str) -> None:
    """Only a corrected finding ever saw it. What was done about it meanwhile was done, and stays as it is."""
    if defect.state not in OVER:
        verify(defect=defect, found_again=False, actor=actor, now=now, why=why)
        return
    defect.verified, defect.verified_by, defect.verified_at = False, actor.member, now
    defect.save(update_fields=["verified", "verified_by", "verified_at"])
    record_change(row=defect, act="was not there", actor=actor, at=now, after={"verified": False}, why=why)
