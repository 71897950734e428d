"""The loop closed: what is done differently because of defects, from when, and what came of it.

States of a corrective action: set, in use, effect looked at, closed; or dropped with a reason. It cannot be
closed before somebody looked at its effect (MIL-HDBK-2155 and ISO 9001:2015 10.2, both restated).
"""

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any, Final

from django.db import transaction

from shopwarranty.shops.history import Actor, StaleState, move_state, next_number, record_change
from shopwarranty.shops.models import Member

from ..models import ActionDefect, CorrectiveAction, Defect
from .refusals import DefectRefusal

State = CorrectiveAction.State
SERIES: Final = "action"


class ActionElsewhere(DefectRefusal):
    """The corrective action is at another stage, perhaps since a moment ago."""


class WordsMissing(DefectRefusal):
    """This asks for words: what is done differently, what came of it, or why not."""


class NotInUseYet(DefectRefusal):
    """The day from which it counts has not come, or nobody has named it."""


@transaction.atomic
def set_action(
    *,
    text: str,
    owner: Member,
    actor: Actor,
    now: datetime,
    due_on: date | None = None,
    effective_from: date | None = None,
    defects: Sequence[Defect] = (),
    **more: Any,
) -> CorrectiveAction:
    """What is done differently, who sees to it, until when, from which day it counts. Raises WordsMissing."""
    if not text.strip():
        raise WordsMissing
    action: CorrectiveAction = CorrectiveAction.objects.create(
        number=f"A{next_number(SERIES):04d}",
        text=text.strip(),
        owner=owner,
        due_on=due_on,
        effective_from=effective_from,
        set_at=now,
        **more,
    )
    because_of(action=action, defects=defects)
    after = {"text": action.text, "owner": owner.name, "due": due_on, "from": effective_from}
    record_change(row=action, act="action set", actor=actor, at=now, after=after)
    return action


def because_of(*, action: CorrectiveAction, defects: Sequence[Defect]) -> None:
    """Defects it answers to; one may be answered by several."""
    for defect in defects:
        ActionDefect.objects.get_or_create(action=action, defect=defect)


@transaction.atomic
def put_in_use(*, action: CorrectiveAction, effective_from: date, actor: Actor, now: datetime) -> None:
    """Work is done that way from that day on. Raises NotInUseYet for a day to come; ActionElsewhere."""
    if effective_from > now.astimezone(action.shop.zone).date():
        raise NotInUseYet
    move(action, State.SET, State.IN_USE, actor, now, effective_from=effective_from)


@transaction.atomic
def look_at_effect(
    *,
    action: CorrectiveAction,
    words: str,
    actor: Actor,
    now: datetime,
    figures: dict[str, Any] | None = None,
) -> None:
    """What came of it, in words, with the figures looked at. Raises WordsMissing or ActionElsewhere.

    Looking again takes the place of what stands there; the history keeps both.
    """
    if not words.strip() or actor.member is None:
        raise WordsMissing
    more: dict[str, Any] = {
        "effect_words": words.strip(),
        "effect_figures": figures or {},
        "effect_checked_at": now,
        "effect_checked_by_id": actor.member.pk,
    }
    move(action, (State.IN_USE, State.CHECKED), State.CHECKED, actor, now, **more)


@transaction.atomic
def close_action(*, action: CorrectiveAction, actor: Actor, now: datetime) -> None:
    """Raises ActionElsewhere before its effect was looked at."""
    move(action, State.CHECKED, State.CLOSED, actor, now, closed_at=now)


@transaction.atomic
def drop_action(*, action: CorrectiveAction, why: str, actor: Actor, now: datetime) -> None:
    """Nothing is done about it, with a reason. Raises WordsMissing or ActionElsewhere."""
    if not why.strip():
        raise WordsMissing
    olds = (State.SET, State.IN_USE, State.CHECKED)
    move(action, olds, State.DROPPED, actor, now, why=why.strip(), closed_at=now)


@transaction.atomic
def reopen_action(*, action: CorrectiveAction, why: str, actor: Actor, now: datetime) -> None:
    """It did not hold: its effect is looked at anew, and what was written stays in the history."""
    if not why.strip():
        raise WordsMissing
    olds = (State.CLOSED, State.DROPPED)
    to = State.IN_USE if action.effective_from else State.SET
    blank: dict[str, Any] = {
        "effect_words": "",
        "effect_figures": {},
        "effect_checked_at": None,
        "effect_checked_by_id": None,
    }
    move(action, olds, to, actor, now, why=why.strip(), closed_at=None, **blank)


def move(
    action: CorrectiveAction,
    old: str | tuple[str, ...],
    new: str,
    actor: Actor,
    now: datetime,
    why: str = "",
    **more: Any,
) -> None:
    try:
        move_state(action, old=old, new=new, actor=actor, at=now, why=why, **more)
    except StaleState as stale:
        raise ActionElsewhere from stale
