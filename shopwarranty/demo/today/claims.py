"""Claims at every stage, and what holders reported and nobody has looked at yet."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import time, timedelta

from shopwarranty.claims.actions import due_after
from shopwarranty.claims.models import Claim, ClaimedDefect
from shopwarranty.defects.models import ActionDefect, CorrectiveAction, Defect
from shopwarranty.inspections.models import HolderReport, ReportPhoto
from shopwarranty.jobs.models import Holding, PanelWork, Photo
from shopwarranty.jobs.photos import Subject, add_photo
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Counter
from shopwarranty.warranty.models import Certificate

from .. import sources
from ..chance import uid
from .answering import answer
from .claimed import OUTSIDE, picked_for_answers
from .moment import Day
from .photos import picture


@dataclass(frozen=True, slots=True)
class Reported:
    words: str
    panel: str
    days_ago: int
    since: str
    lifted: bool


REPORTS = (
    Reported("The film at the left mirror lifts a little.", "left-mirror", 6, "since the weekend", True),
    Reported("Bubbles near the badge, about three.", "bonnet", 2, "about a week", False),
)


def write_claims(day: Day) -> None:
    """What was answered is about defects whose record allows the answer; the rest, what is open."""
    picked = picked_for_answers(day)
    others = _claimable({defect.place.piece.panel_work.job.vehicle_id for defect in picked.values()})
    first = Claim.objects.count() + 1
    for number, told in enumerate(sources.claims(), first):
        claim = _claim(day, number, told, picked.get(told) or next(others))
        if told in picked:
            answer(day, claim, told)
    Counter.objects.update_or_create(series="claim", defaults={"last": first + len(sources.claims()) - 1})


def _claimable(seen: set[int]) -> Iterator[Defect]:
    """Open ones first: what nobody has put right is what people write about. One vehicle claims once."""
    rows = Defect.objects.exclude(at_handover=True).filter(place__piece__panel_work__job__kind="customer")
    rows = rows.exclude(kind__in=OUTSIDE)
    rows = rows.select_related("place__piece__panel_work__job__vehicle").order_by("state", "-found_on", "pk")
    for defect in rows:
        vehicle = defect.place.piece.panel_work.job.vehicle_id
        if vehicle not in seen:
            seen.add(vehicle)
            yield defect


def _claim(day: Day, number: int, told: sources.Claim, defect: Defect) -> Claim:
    job = defect.place.piece.panel_work.job
    at, words = day.ago(told.days_ago, time(14, 10)), sources.said_of(defect.kind)
    holder = Holding.objects.filter(vehicle=job.vehicle, role="holder", until=None).first()
    state = Claim.State.RECEIVED if told.answer else told.state
    claim: Claim = Claim.objects.create(
        number=f"C{number:04d}",
        vehicle=job.vehicle,
        certificate=Certificate.objects.filter(job=job, state="issued").first(),
        claimant=holder.party if holder else None,
        first_reported_at=at,
        received_at=at,
        channel=told.channel,
        words=words,
        is_safety=False,
        state=state,
        state_since=at,
        due_on=due_after(state, at.astimezone(day.shop.zone).date()),
    )
    ClaimedDefect.objects.create(claim=claim, place=defect.place, defect=defect, words=words)
    return claim


def write_reports(day: Day) -> None:
    """Each with its panel and a photo. They wait for the desk, and until then say nothing about the place."""
    works = PanelWork.objects.filter(
        job__kind="customer", job__state="handed_over", finished_at__lt=day.ago(8)
    )
    works = works.select_related("job__vehicle").order_by("-job__handed_over_on", "-job")
    vehicles: set[int] = set()
    for number, told in enumerate(REPORTS):
        of_panel = works.filter(panel=told.panel).exclude(job__vehicle__in=vehicles)
        work = next(row for row in of_panel if not row.job.vehicle.claims.exists())
        vehicles.add(work.job.vehicle_id)
        _report(day, number, told, work)


def _report(day: Day, number: int, told: Reported, work: PanelWork) -> None:
    sent = day.ago(told.days_ago - 1, time(8, 30))
    holder = Holding.objects.filter(vehicle=work.job.vehicle, role="holder", until=None).first()
    report = HolderReport.objects.create(
        vehicle=work.job.vehicle,
        job=work.job,
        panel=told.panel,
        party=holder.party if holder else None,
        words=told.words,
        since_when=sent.date() - timedelta(days=told.days_ago),
        since_when_words=told.since,
        sent_at=sent,
    )
    photo = add_photo(
        sent=picture(20 + number, lifted=told.lifted),
        subject=Subject(work.job.vehicle),
        stage=Photo.Stage.REPORT,
        actor=Actor(who=""),
        now=sent,
        uid=uid("photo of a report", number),
    )
    ReportPhoto.objects.create(report=report, photo=photo)


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
