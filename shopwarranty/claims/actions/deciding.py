"""A person decides, defect by defect. All that is worked out for them is what may be named as a ground."""

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.db.models import Exists, OuterRef

from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.shops.history import Actor, record_change
from shopwarranty.shops.models import Change

from ..grounds import grounds_for
from ..models import Claim, ClaimedDefect, Decision, Proposal
from ..places import where_words
from ..promise import Promise, promise_for
from ..refusals import NoCoverLine, NoGround, NotMatched, OwnerDecides, ReasonNeeded
from .moving import move, must_be_at

State = Claim.State
Answer = Decision.Answer
PLACE = "place__piece__panel_work__job__vehicle"


@dataclass(frozen=True, slots=True)
class Said:
    """What was decided: `ground` is the key of a ground for a refusal, `line` the cover line for the rest."""

    answer: str
    reason: str
    ground: str = ""
    line_id: int | None = None


@transaction.atomic
def propose(*, item: ClaimedDefect, said: Said, actor: Actor, now: datetime) -> Proposal:
    """What the desk prepares; the last word replaces the one before. Raises as `decide`, but for the role."""
    assert actor.member is not None
    must_be_at(item.claim, State.IN_ASSESSMENT, State.DECIDED)
    checked(item, said)
    values = {"answer": said.answer, "ground": said.ground, "reason": said.reason.strip()}
    row, _new = Proposal.objects.update_or_create(
        item=item, defaults={**values, "member": actor.member, "at": now}
    )
    record_change(row=item, act="decision prepared", actor=actor, at=now, after=values)
    return row


@transaction.atomic
def decide(*, item: ClaimedDefect, said: Said, actor: Actor, now: datetime) -> Decision:
    """An owner's decision about one defect; the last one decides the claim. A changed mind is a new row.

    Raises OwnerDecides, NotAtThisStage, NotMatched, ReasonNeeded, NoGround or NoCoverLine.
    """
    if actor.member is None or not actor.member.is_owner:
        raise OwnerDecides
    must_be_at(item.claim, State.IN_ASSESSMENT, State.DECIDED)
    line_id, clause, fact = checked(item, said)
    decision: Decision = Decision.objects.create(
        item=item,
        answer=said.answer,
        line_id=line_id,
        clause=clause,
        fact=fact,
        reason=said.reason.strip(),
        decided_by=actor.member,
        decided_at=now,
    )
    after = {"answer": said.answer, "clause": clause, "fact": fact}
    record_change(row=item, act="decided", actor=actor, at=now, after=after, why=decision.reason)
    if item.claim.state == State.IN_ASSESSMENT and not undecided(item.claim):
        move(item.claim, State.DECIDED, actor=actor, now=now)
    return decision


def undecided(claim: Claim) -> bool:
    """Whether something of the claim has no decision since it was last reopened."""
    since = last_reopened(claim)
    decided = Decision.objects.filter(item=OuterRef("pk"))
    decided = decided.filter(decided_at__gte=since) if since else decided
    return claim.items.filter(~Exists(decided)).exists()


def last_reopened(claim: Claim) -> datetime | None:
    rows = Change.objects.filter(table=Claim._meta.db_table, row=claim.pk, act=State.REOPENED)
    return rows.order_by("-at").values_list("at", flat=True).first()


def checked(item: ClaimedDefect, said: Said) -> tuple[int | None, str, str]:
    """Cover line, clause and fact as they will be kept."""
    if said.answer not in Answer.values or not said.reason.strip():
        raise ReasonNeeded
    if item.place is None and item.is_ours is not False:
        raise NotMatched
    promise = promise_for(item)
    if said.answer == Answer.REFUSE:
        fresh = ClaimedDefect.objects.select_related("claim__shop", PLACE, "defect").get(pk=item.pk)
        where = where_words(fresh, ShopCatalogue(item.shop))
        found = next((g for g in grounds_for(fresh, promise, where) if g.key == said.ground), None)
        if found is None:
            raise NoGround
        return None, found.clause, found.fact
    if said.answer == Answer.GOODWILL:
        return None, "", ""
    return covering_line(promise, said), "", ""


def covering_line(promise: Promise, said: Said) -> int:
    lines = {line.line_id for line in promise.covering}
    if said.line_id not in lines:
        raise NoCoverLine
    return said.line_id
