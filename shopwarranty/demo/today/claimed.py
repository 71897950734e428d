"""Which defects the answered claims are about: such that the answer is one that the record allows."""

from datetime import timedelta

from django.db.models import QuerySet

from shopwarranty.defects.models import Defect, Sighting
from shopwarranty.jobs.models import Job

from .. import sources
from ..plans import LATE_ISSUES
from .moment import Day

LIFTS = ("edge-lift", "corner-lift", "tenting", "seam-gap", "shrink-back")
WORKMANSHIP = ("crease", "finger", "air-bubble", "moisture-pocket", "contamination", "knife-mark")
OUTSIDE = ("stone-chip", "impact-damage")
LIFTS_COVERED, WORK_COVERED = timedelta(days=700), timedelta(days=200)
"""Within the two years of a lift's cover; well past the half year of the rest."""

Picked = dict[sources.Claim, Defect]


def jobs_to_answer_for(day: Day) -> list[Job]:
    """Older jobs whose holders asked for a certificate, and came back with something soon after."""
    picked = picked_for_answers(day)
    return [defect.place.piece.panel_work.job for told, defect in picked.items() if told.answer != "goodwill"]


def picked_for_answers(day: Day) -> Picked:
    """One defect for each claim that has an answer; no vehicle twice."""
    picked: Picked = {}
    vehicles = {day.written.jobs[number].vehicle_id for number in LATE_ISSUES}
    for told in sources.claims():
        for defect in _suiting(told, day) if told.answer else ():
            vehicle = defect.place.piece.panel_work.job.vehicle_id
            if vehicle not in vehicles:
                vehicles.add(vehicle)
                picked[told] = defect
                break
    return picked


def _suiting(told: sources.Claim, day: Day) -> QuerySet[Defect]:
    """Seen before it is decided, and put right only where the claim has come that far.

    Neither a trace nor anything grave: those are what the last weeks tell of (`defects.py`).
    """
    said = day.today - timedelta(days=told.days_ago)
    rows = Defect.objects.exclude(at_handover=True).filter(place__piece__panel_work__job__kind="customer")
    rows = rows.exclude(pk__in=Sighting.objects.exclude(severity=2).values("defect"))
    rows = rows.select_related("place__piece__panel_work__job__vehicle").order_by("-found_on", "pk")
    handed_over = "place__piece__panel_work__job__handed_over_on"
    if told.answer == "refuse":
        return rows.filter(kind__in=OUTSIDE, found_on__lte=said)
    if told.answer == "goodwill":
        rows = rows.filter(kind__in=WORKMANSHIP, **{f"{handed_over}__lt": said - WORK_COVERED})
    else:
        rows = rows.filter(kind__in=LIFTS, **{f"{handed_over}__gt": said - LIFTS_COVERED})
    if told.state in ("remedied", "closed"):
        return rows.filter(state="remedied", found_on__range=(said, said + timedelta(days=3)))
    return rows.filter(state="open", found_on__lte=said)
