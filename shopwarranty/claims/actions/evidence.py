"""What is found out about a claimed defect: where it is, whose film it is, facts that speak for a clause."""

from datetime import datetime

from django.db import transaction

from shopwarranty.defects.models import Defect
from shopwarranty.jobs.models import Photo, Place
from shopwarranty.shops.history import Actor, record_change

from ..models import Claim, ClaimedDefect, ClaimFact
from ..promise import clauses_of, promise_for
from ..refusals import Elsewhere, FactNeeded, UnknownClause
from .moving import must_be_at

State = Claim.State
BEFORE_TOLD = (State.RECEIVED, State.ACKNOWLEDGED, State.IN_ASSESSMENT, State.DECIDED, State.REOPENED)


@transaction.atomic
def match_item(
    *,
    item: ClaimedDefect,
    place: Place | None,
    actor: Actor,
    now: datetime,
    defect: Defect | None = None,
    is_ours: bool | None = None,
) -> None:
    """Where it is on our film, and which defect; or that it is no film of ours.

    A defect brings its place with it. Raises Elsewhere or NotAtThisStage.
    """
    must_be_at(item.claim, *BEFORE_TOLD)
    place = defect.place if defect else place
    if place is not None and place.piece.panel_work.job.vehicle_id != item.claim.vehicle_id:
        raise Elsewhere
    ours = True if place else is_ours
    before = {"place": item.place_id, "defect": item.defect_id, "ours": item.is_ours}
    after = {"place": place.pk if place else None, "defect": defect.pk if defect else None, "ours": ours}
    ClaimedDefect.objects.filter(pk=item.pk).update(place=place, defect=defect, is_ours=ours)
    item.place, item.defect, item.is_ours = place, defect, ours
    record_change(row=item, act="matched", actor=actor, at=now, before=before, after=after)


@transaction.atomic
def add_fact(
    *,
    item: ClaimedDefect,
    clause: str,
    words: str,
    seen_where: str,
    actor: Actor,
    now: datetime,
    photo: Photo | None = None,
) -> ClaimFact:
    """A fact for one exclusion of the certificate.

    Raises FactNeeded, UnknownClause, Elsewhere or NotAtThisStage.
    """
    must_be_at(item.claim, *BEFORE_TOLD)
    if not words.strip() or not seen_where.strip():
        raise FactNeeded
    if photo is not None and photo.vehicle_id != item.claim.vehicle_id:
        raise Elsewhere
    if clause not in clauses_of(promise_for(item)):
        raise UnknownClause
    fact: ClaimFact = ClaimFact.objects.create(
        item=item,
        clause=clause,
        words=words.strip(),
        seen_where=seen_where.strip()[:200],
        photo=photo,
        member=actor.member,
        at=now,
    )
    record_change(
        row=item, act="fact noted", actor=actor, at=now, after={"clause": clause, "fact": fact.words}
    )
    return fact


@transaction.atomic
def set_aside_fact(*, fact: ClaimFact, why: str, actor: Actor, now: datetime) -> None:
    """It turned out not to be so; it stays listed as set aside. Raises FactNeeded without a reason."""
    must_be_at(fact.item.claim, *BEFORE_TOLD)
    if not why.strip():
        raise FactNeeded
    if ClaimFact.objects.filter(pk=fact.pk, set_aside_at__isnull=True).update(set_aside_at=now):
        record_change(row=fact, act="fact set aside", actor=actor, at=now, why=why.strip())
