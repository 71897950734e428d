"""Claims of the two years before, all settled: what holders came back with, found and put right."""

from datetime import date, timedelta

from shopwarranty.claims.models import Claim, ClaimedDefect
from shopwarranty.defects.models import Defect
from shopwarranty.jobs.models import Holding
from shopwarranty.review.actions import set_claims_since

from .. import sources
from .moment import Day

SINCE_DAYS = 760
LATEST_DAYS = 40
"""After that day claims stand at the stages that the present is about."""


def write_earlier(day: Day) -> None:
    """The first defect of each job that a holder came back with; and since when all claims are on record."""
    rows = Defect.objects.filter(
        state="remedied",
        sightings__finding__visit__origin="defect",
        place__piece__panel_work__job__kind="customer",
        found_on__lt=day.today - timedelta(days=LATEST_DAYS),
    )
    rows = rows.select_related("place__piece__panel_work__job__vehicle").order_by("found_on", "pk").distinct()
    seen: set[int] = set()
    for defect in rows:
        job = defect.place.piece.panel_work.job_id
        if job not in seen:
            seen.add(job)
            _settled(day, len(seen), defect)
    set_claims_since(since=day.today - timedelta(days=SINCE_DAYS), actor=day.actor("owner"), now=day.ago(13))


def _settled(day: Day, number: int, defect: Defect) -> None:
    job = defect.place.piece.panel_work.job
    reported = day.ago((day.today - _reported_on(defect, number)).days)
    words = sources.said_of(defect.kind)
    holder = Holding.objects.filter(vehicle=job.vehicle, role="holder", until=None).first()
    claim = Claim.objects.create(
        number=f"C{number:04d}",
        vehicle=job.vehicle,
        claimant=holder.party if holder else None,
        first_reported_at=reported,
        received_at=reported + timedelta(days=number % 4, hours=2),
        channel=Claim.Channel.TELEPHONE if number % 3 else Claim.Channel.MAIL,
        words=words,
        is_safety=False,
        state=Claim.State.CLOSED,
        state_since=reported + timedelta(days=18),
    )
    ClaimedDefect.objects.create(claim=claim, place=defect.place, defect=defect, words=words)


def _reported_on(defect: Defect, number: int) -> date:
    """A few days before the visit that found it, and not before the vehicle left."""
    job = defect.place.piece.panel_work.job
    said: date = defect.found_on - timedelta(days=2 + number % 5)
    return max(said, job.handed_over_on or said)
