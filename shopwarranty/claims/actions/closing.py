"""The end of a claim: put right and the holder asked, or refused with the way to object; and reopening it."""

from datetime import datetime

from django.db import transaction

from shopwarranty.defects.models import Defect
from shopwarranty.shops.history import Actor

from ..decisions import standing_decisions
from ..models import Claim, Decision
from ..refusals import HolderNotAsked, NotAtThisStage, NotPutRight, ReasonNeeded
from .moving import move, must_be_at

State = Claim.State
PUT_RIGHT = (Defect.State.REMEDIED, Defect.State.ENDED)


@transaction.atomic
def mark_remedied(*, claim: Claim, actor: Actor, now: datetime, note: str = "") -> None:
    """Everything accepted is put right: by its remedy, or as `note` says where no defect is recorded.

    Raises NotPutRight, or NotAtThisStage where nothing was accepted.
    """
    must_be_at(claim, State.TOLD)
    accepted = [row for row in standing_decisions(claim) if row.answer != Decision.Answer.REFUSE]
    if not accepted:
        raise NotAtThisStage
    for decision in accepted:
        defect = decision.item.defect
        if defect.state not in PUT_RIGHT if defect else not note.strip():
            raise NotPutRight
    move(claim, State.REMEDIED, actor=actor, now=now, why=note.strip())


@transaction.atomic
def close(*, claim: Claim, holder_said: str, actor: Actor, now: datetime) -> None:
    """After the remedy with the holder's answer, or after a refusal was told with the way to object.

    Raises HolderNotAsked, or NotAtThisStage while something accepted is not put right.
    """
    must_be_at(claim, State.TOLD, State.REMEDIED)
    refused = all(row.answer == Decision.Answer.REFUSE for row in standing_decisions(claim))
    if claim.state == State.TOLD and not refused:
        raise NotAtThisStage
    if claim.state == State.REMEDIED and not holder_said.strip():
        raise HolderNotAsked
    move(claim, State.CLOSED, actor=actor, now=now, holder_said=holder_said.strip())


@transaction.atomic
def reopen(*, claim: Claim, why: str, actor: Actor, now: datetime) -> None:
    """The holder sees it differently, or it came back. What was decided stays and is decided anew.

    Raises ReasonNeeded or NotAtThisStage.
    """
    if not why.strip():
        raise ReasonNeeded
    move(claim, State.REOPENED, actor=actor, now=now, why=why.strip())
