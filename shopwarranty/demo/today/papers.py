"""The shop's own warranty plan, certificates of the latest jobs, and one that went to a new holder."""

from datetime import datetime, time

from shopwarranty.desk.handover import hand_over
from shopwarranty.jobs.actions import add_party
from shopwarranty.jobs.models import Job
from shopwarranty.outbox.models import Message
from shopwarranty.warranty.actions import issue_prepared, prepare_certificate
from shopwarranty.warranty.disclosures import TextFlags, profile_of, texts_to_confirm
from shopwarranty.warranty.models import (
    Certificate,
    CoverLine,
    Plan,
    PlanVersion,
    TextConfirmation,
)
from shopwarranty.warranty.plan_actions import publish, usual_version, write_draft
from shopwarranty.warranty.telling import tell_issued
from shopwarranty.warranty.transfers import Sale, transfer_vehicle
from shopwarranty.warranty.usual_plan import words_for

from ..plans import FIRST_DAY_HERE, LATE_ISSUES
from ..writing.jobs import is_left_to_handover
from .claimed import LIFTS, WORKMANSHIP, jobs_to_answer_for
from .moment import Day

PAID = "We pay for film, labor and taking off the old film on that panel."
LAY_AGAIN = "We heat and press it down again, or lay new film on that panel."


def write_plan(day: Day) -> PlanVersion:
    """The owner's own words take the place of the start that came with the program."""
    now = day.ago(FIRST_DAY_HERE, time(14))
    words = words_for(day.shop) | {"paid": PAID}
    plan = Plan.objects.get()
    version = write_draft(plan=plan, words=words, lines=_lines(), actor=day.actor("owner"), now=now)
    publish(version=version, warned=(), reasons={}, actor=day.actor("owner"), now=now)
    confirm_wording(day, now)
    return version


def confirm_wording(day: Day, at: datetime) -> None:
    """An invented shop compared the invented way; a real one reads the official text before it promises."""
    member = day.actor("owner").member
    assert member is not None
    texts = texts_to_confirm(profile_of(day.shop.legal_profile, country=day.shop.country), TextFlags())
    for text in texts:
        TextConfirmation.objects.create(
            identifier=text.confirmed_as,
            text_version=text.version,
            read_where="Invented for the demonstration: nobody read it",
            member=member,
            at=at,
        )


def _lines() -> list[dict[str, object]]:
    shop = CoverLine.Warrantor.SHOP
    return [
        {
            "title": "An edge, corner or recess lifts, or film pulls back",
            "defect_kinds": list(LIFTS),
            "years": 2,
            "warrantor": shop,
            "remedy": LAY_AGAIN,
        },
        {
            "title": "Our work left a crease, a bubble, dirt under the film or a cut",
            "defect_kinds": list(WORKMANSHIP),
            "months": 6,
            "warrantor": shop,
            "remedy": "We put it right, or lay new film on that panel.",
        },
    ]


def issue_certificates(day: Day) -> None:
    """Of the jobs since the record is kept here, and of a few older ones whose holders asked."""
    asked = day.ago(FIRST_DAY_HERE, time(14, 30))
    for job in (*(day.written.jobs[number] for number in LATE_ISSUES), *jobs_to_answer_for(day)):
        _issue(day, job, asked)
    for told, job in zip(day.story.jobs, day.written.jobs, strict=True):
        if not told.imported and not is_left_to_handover(day.story, told):
            assert job.handed_over_at is not None
            _issue(day, job, job.handed_over_at)


def _issue(day: Day, job: Job, now: datetime) -> Certificate:
    """As it was issued then; the holder's mail has long gone out."""
    version = usual_version()
    assert version is not None
    assert job.handed_over_on is not None
    prepared = prepare_certificate(job=job, plan_version=version, handed_over_on=job.handed_over_on, now=now)
    certificate = issue_prepared(prepared=prepared, actor=day.actor("desk"), now=now)
    message = tell_issued(certificate, now=now)
    if message is not None:
        sent = {"state": Message.State.SENT, "settled_at": now, "attempts": 1}
        Message.objects.filter(pk=message.pk).update(**sent)
    return certificate


def hand_over_latest(day: Day) -> None:
    for told, job in zip(day.story.jobs, day.written.jobs, strict=True):
        if is_left_to_handover(day.story, told):
            hand_over(job=job, actor=day.actor("desk"), now=day.written.at(told.handed_over_at))


def sell_a_vehicle(day: Day) -> None:
    """The buyer takes the certificate over; its dates stay."""
    certificate = Certificate.objects.get(job=day.written.jobs[LATE_ISSUES[0]])
    now, actor = day.ago(8, time(11)), day.actor("desk")
    buyer = add_party(
        name="Perrin Oxbarrow",
        email="perrin.oxbarrow@example.org",
        telephone="914-555-0117",
        address="9 Gable End\nEastwick Falls, NY",
        actor=actor,
        now=now,
    )
    sale = Sale(buyer, now.astimezone(day.shop.zone).date(), agreed=True)
    transfer_vehicle(vehicle=certificate.vehicle, sale=sale, actor=actor, now=now)
