"""Claims at every stage, what holders reported and nobody has looked at yet, and a claim to a film maker."""

from collections.abc import Iterator
from datetime import time, timedelta

from shopwarranty.claims.actions import due_after
from shopwarranty.claims.models import Claim, ClaimedDefect, Decision
from shopwarranty.defects.models import ActionDefect, CorrectiveAction, Defect
from shopwarranty.inspections.models import HolderReport
from shopwarranty.jobs.models import Holding
from shopwarranty.shops.models import Counter
from shopwarranty.warranty.models import Certificate, CoverLine

from .. import sources
from .moment import Day

OUTSIDE = ("stone-chip", "impact-damage")
REPORTS = (
    ("The film at the left mirror lifts a little.", 6, "since the weekend"),
    ("Bubbles near the badge, about three.", 2, "about a week"),
)


def write_claims(day: Day) -> None:
    of_work, from_outside = _claimable(outside=False), _claimable(outside=True)
    first = Claim.objects.count() + 1
    for number, told in enumerate(sources.claims(), first):
        defect = next(from_outside if told.answer == "refuse" else of_work)
        _claim(day, number, told, defect)
    Counter.objects.update_or_create(series="claim", defaults={"last": first + len(sources.claims()) - 1})


def _claimable(*, outside: bool) -> Iterator[Defect]:
    """Open ones first: what nobody has put right is what people write about. One vehicle claims once."""
    rows = Defect.objects.exclude(at_handover=True).filter(place__piece__panel_work__job__kind="customer")
    rows = rows.filter(kind__in=OUTSIDE) if outside else rows.exclude(kind__in=OUTSIDE)
    rows = rows.select_related("place__piece__panel_work__job__vehicle").order_by("state", "-found_on", "pk")
    seen: set[int] = set()
    for defect in rows:
        vehicle = defect.place.piece.panel_work.job.vehicle_id
        if vehicle not in seen:
            seen.add(vehicle)
            yield defect


def _claim(day: Day, number: int, told: sources.Claim, defect: Defect) -> None:
    job = defect.place.piece.panel_work.job
    at, words = day.ago(told.days_ago, time(14, 10)), sources.said_of(defect.kind)
    holder = Holding.objects.filter(vehicle=job.vehicle, role="holder", until=None).first()
    claim = Claim.objects.create(
        number=f"C{number:04d}",
        vehicle=job.vehicle,
        certificate=Certificate.objects.filter(job=job, state="issued").first(),
        claimant=holder.party if holder else None,
        first_reported_at=at,
        received_at=at,
        channel=told.channel,
        words=words,
        is_safety=False,
        state=told.state,
        state_since=at,
        due_on=due_after(told.state, at.astimezone(day.shop.zone).date()),
    )
    item = ClaimedDefect.objects.create(claim=claim, place=defect.place, defect=defect, words=words)
    if told.answer:
        Decision.objects.create(
            item=item,
            answer=told.answer,
            line=CoverLine.objects.order_by("-pk").first() if told.answer == "accept" else None,
            clause=told.clause,
            fact=told.fact,
            reason=told.reason,
            decided_by=day.written.members["owner"],
            decided_at=at + timedelta(days=1),
        )


def write_reports(day: Day) -> None:
    """They wait for the desk; until then they say nothing about the place."""
    recent = [job for told, job in zip(day.story.jobs, day.written.jobs, strict=True) if not told.imported]
    for job, (words, days_ago, since) in zip(recent[1:], REPORTS, strict=False):
        sent = day.ago(days_ago - 1, time(8, 30))
        holder = Holding.objects.filter(vehicle=job.vehicle, role="holder", until=None).first()
        HolderReport.objects.create(
            vehicle=job.vehicle,
            job=job,
            party=holder.party if holder else None,
            words=words,
            since_when=sent.date() - timedelta(days=days_ago),
            since_when_words=since,
            sent_at=sent,
        )


def learn_from_it(day: Day) -> None:
    """What the owner wants done differently, from when, and because of what."""
    action = CorrectiveAction.objects.create(
        number="A0001",
        text="Heat every handle recess as an act of its own, after the edges have cooled.",
        owner=day.written.members["owner"],
        due_on=day.today + timedelta(days=24),
        effective_from=day.ago(9).date(),
        state=CorrectiveAction.State.IN_USE,
        set_at=day.ago(10),
    )
    Counter.objects.update_or_create(series="action", defaults={"last": 1})
    because = Defect.objects.filter(cause="not_post_heated").order_by("-found_on", "pk")[:5]
    for defect in because:
        ActionDefect.objects.create(action=action, defect=defect)
