"""Claims that were answered, by the same acts as the page offers, each at its day."""

from datetime import datetime, timedelta

from shopwarranty.claims import actions
from shopwarranty.claims.actions.deciding import Said
from shopwarranty.claims.models import Claim, ClaimedDefect
from shopwarranty.claims.promise import promise_for
from shopwarranty.jobs.photos import Subject, add_photo
from shopwarranty.outbox.models import Message
from shopwarranty.web.formats import full_date

from .. import sources
from ..chance import uid
from .moment import Day
from .photos import picture


def answer(day: Day, claim: Claim, told: sources.Claim) -> None:
    """From the acknowledgement to where it stands now; the mails have gone out long ago."""
    desk, at = day.actor("desk"), claim.received_at
    actions.acknowledge(claim=claim, actor=desk, now=at + timedelta(hours=1), how="told at the desk")
    actions.assess(
        claim=claim, is_safety=False, is_spreading=None, note="", actor=desk, now=at + timedelta(hours=2)
    )
    item = claim.items.select_related("defect__place__piece__panel_work__job__vehicle").get()
    decided = at + timedelta(days=1)
    actions.decide(item=item, said=_said(day, item, told, decided), actor=day.actor("owner"), now=decided)
    if told.state != Claim.State.DECIDED:
        actions.tell(claim=claim, actor=desk, now=decided + timedelta(hours=1))
    if told.state in (Claim.State.REMEDIED, Claim.State.CLOSED):
        actions.mark_remedied(claim=claim, actor=desk, now=decided + timedelta(days=4))
    if told.state == Claim.State.CLOSED:
        heard = decided + timedelta(days=6)
        actions.close(claim=claim, holder_said="Glad that it was done.", actor=desk, now=heard)
    out = Message.objects.filter(about=f"claim:{claim.pk}", state=Message.State.WAITING)
    out.update(state=Message.State.SENT, settled_at=decided + timedelta(hours=2), attempts=1)


def _said(day: Day, item: ClaimedDefect, told: sources.Claim, decided: datetime) -> Said:
    if told.answer == "refuse":
        return Said(told.answer, told.reason, ground=f"fact-{_fact(day, item, told, decided)}")
    covering = promise_for(item).covering if told.answer == "accept" else ()
    return Said(told.answer, told.reason, line_id=covering[0].line_id if covering else None)


def _fact(day: Day, item: ClaimedDefect, told: sources.Claim, decided: datetime) -> int:
    """What speaks for the exclusion, with the picture that shows it."""
    assert item.defect is not None
    seen = full_date(item.defect.found_on, day.shop)
    photo = add_photo(
        sent=picture(30, lifted=True),
        subject=Subject.of_place(item.defect.place),
        stage="check",
        actor=day.actor("abel"),
        now=decided - timedelta(hours=3),
        uid=uid("photo of a fact", item.claim.number),
    )
    fact = actions.add_fact(
        item=item,
        clause=told.clause,
        words=told.fact,
        seen_where=f"the check of {seen}, with a photo",
        actor=day.actor("owner"),
        now=decided - timedelta(hours=1),
        photo=photo,
    )
    return fact.pk
