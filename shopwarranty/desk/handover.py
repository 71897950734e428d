"""Handing over: what is missing, and the one act that sets the moment, issues and plans."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from shopwarranty.inspections.actions import finish_visit, plan_checks
from shopwarranty.inspections.models import Check, Visit
from shopwarranty.jobs.models import Job
from shopwarranty.outbox.models import Message
from shopwarranty.shops.again import twice_is_once
from shopwarranty.shops.history import Actor, StaleState, move_state
from shopwarranty.warranty.actions import (
    PreparedCertificate,
    in_force,
    issue_prepared,
    prepare_certificate,
    prepare_edition,
)
from shopwarranty.warranty.models import Certificate, PlanVersion, ReasonGiven
from shopwarranty.warranty.public_code import new_code
from shopwarranty.warranty.refusals import AlreadyInForce, NothingDiffers, NotInForce
from shopwarranty.warranty.telling import tell_issued

from . import handover_gaps as gaps
from .condition_gaps import condition_gaps
from .gap import ORDER, Gap
from .handover_situation import Situation, load_situation

FINDERS = (
    gaps.vehicle_gaps,
    gaps.panel_gaps,
    gaps.film_gaps,
    gaps.defect_gaps,
    gaps.look_gaps,
    gaps.shop_gaps,
    gaps.text_gaps,
    gaps.holder_gaps,
    condition_gaps,
)


class HandoverRefusal(Exception):
    """The job was not handed over; nothing was written. `gaps` says why."""

    def __init__(self, found: tuple[Gap, ...]) -> None:
        super().__init__("; ".join(gap.words for gap in found))
        self.gaps = found


class Blocked(HandoverRefusal):
    """Something is missing that no reason makes up for."""


class ReasonsAsked(HandoverRefusal):
    """Something asks for a reason, and none was given."""


class OwnerAsked(HandoverRefusal):
    """The reason is the owner's to give."""


@dataclass(frozen=True, slots=True)
class HandedOver:
    """What the act left behind. `again`: it had happened before, and nothing was done twice."""

    job: Job
    certificate: Certificate | None
    message: Message | None = None
    checks: tuple[Check, ...] = ()
    again: bool = False


def what_is_missing(job: Job, now: datetime, plan: PlanVersion | None = None) -> tuple[Gap, ...]:
    """What blocks, then what asks for a reason, then what only tells; each in the order to fix it."""
    return gaps_of(load_situation(job, now, plan))


def gaps_of(at: Situation) -> tuple[Gap, ...]:
    found = [gaps.with_reason(gap, at) for finder in FINDERS for gap in finder(at)]
    return tuple(sorted(found, key=lambda gap: ORDER[gap.kind]))


@twice_is_once
def hand_over(
    *,
    job: Job,
    actor: Actor,
    now: datetime,
    reasons: Mapping[str, str] | None = None,
    plan: PlanVersion | None = None,
    mail: bool = True,
    code: Callable[[], str] = new_code,
) -> HandedOver:
    """One act: the moment, the day-0 look, the certificate, the checks, the messages. Twice is once.

    `reasons`: by the key of each gap that asks. Raises Blocked, ReasonsAsked or OwnerAsked.
    """
    job = Job.objects.select_related("shop", "vehicle").get(pk=job.pk)
    if job.state != Job.State.OPEN:
        return as_it_was(job)
    while True:
        at = load_situation(job, now, plan)
        given = reasons_to_keep(at, reasons or {}, actor)
        prepared = prepare(at, now, code)
        try:
            with transaction.atomic():
                stays_as(at, now, plan)
                return write(at, prepared, given, actor, now, mail)
        except RecordMoved:
            continue
        except (StaleState, AlreadyInForce, NotInForce):
            job.refresh_from_db()
            if job.state == Job.State.OPEN:
                raise
            return as_it_was(job)


class RecordMoved(Exception):
    """Somebody changed the record while the certificate was being drawn; what was drawn is out of date."""


def stays_as(at: Situation, now: datetime, plan: PlanVersion | None) -> None:
    """Asked with the job held: what is promised and what was found missing still are what they were."""
    held = Job.objects.select_for_update(of=("self",)).select_related("shop", "vehicle").get(pk=at.job.pk)
    fresh = load_situation(held, now, plan)
    if held.state == Job.State.OPEN and (fresh.record, gaps_of(fresh)) != (at.record, gaps_of(at)):
        raise RecordMoved


def as_it_was(job: Job) -> HandedOver:
    certificate = in_force(job) or Certificate.objects.filter(job=job).first()
    checks = tuple(Check.objects.filter(job=job).select_related("plan"))
    return HandedOver(job, certificate, checks=checks, again=True)


def reasons_to_keep(at: Situation, reasons: Mapping[str, str], actor: Actor) -> dict[str, str]:
    found = gaps_of(at)
    blocking = tuple(gap for gap in found if gap.blocks)
    if blocking:
        raise Blocked(blocking)
    asked = tuple(gap for gap in found if gap.asks and not gap.answered)
    unanswered = tuple(gap for gap in asked if not reasons.get(gap.key, "").strip())
    if unanswered:
        raise ReasonsAsked(unanswered)
    owners = tuple(gap for gap in asked if gap.only_owner)
    if owners and not (actor.member and actor.member.is_owner):
        raise OwnerAsked(owners)
    return {gap.key: reasons[gap.key].strip() for gap in asked}


def prepare(at: Situation, now: datetime, code: Callable[[], str]) -> PreparedCertificate | None:
    """None where nobody is promised anything, and where what was issued beforehand says it all already."""
    if not at.is_customers or at.plan is None:
        return None
    if at.beforehand is None:
        return prepare_certificate(
            job=at.job, plan_version=at.plan, handed_over_on=at.today, now=now, code=code, read=at.read
        )
    try:
        return prepare_edition(
            certificate=at.beforehand, handed_over_on=at.today, plan_version=at.plan, now=now, code=code
        )
    except NothingDiffers:
        return None


def write(
    at: Situation,
    prepared: PreparedCertificate | None,
    given: Mapping[str, str],
    actor: Actor,
    now: datetime,
    mail: bool,
) -> HandedOver:
    """Rows only; the caller holds the transaction."""
    job = at.job
    move_state(
        job,
        old=Job.State.OPEN,
        new=Job.State.HANDED_OVER,
        actor=actor,
        at=now,
        handed_over_at=now,
        handed_over_on=at.today,
        handed_over_by_id=actor.member.pk if actor.member else None,
    )
    ReasonGiven.objects.bulk_create(
        ReasonGiven(job=job, question=key[:80], reason=why, member=actor.member, at=now)
        for key, why in given.items()
    )
    look = finish_look(at, actor, now)
    certificate = at.beforehand
    if prepared is not None:
        certificate = issue_prepared(prepared=prepared, actor=actor, now=now)
    last_day = certificate.last_day if certificate else None
    checks = plan_checks(job=job, handed_over_on=at.today, now=now, last_day=last_day, handover_look=look)
    message = tell_issued(certificate, now=now) if certificate and mail else None
    return HandedOver(job, certificate, message, tuple(checks))


def finish_look(at: Situation, actor: Actor, now: datetime) -> Visit | None:
    """The day-0 look ends with the handover; what nobody looked at is written down as not looked at."""
    if at.visit is None or at.visit.state == Visit.State.FINISHED:
        return at.visit
    return finish_visit(visit=at.visit, actor=actor, now=now)


@twice_is_once
def issue_late(*, job: Job, actor: Actor, now: datetime, code: Callable[[], str] = new_code) -> Certificate:
    """For a job handed over before anybody issued: cover counts from its handover day. Raises Blocked.

    What is asked about the handover itself is past; what the law warns about in the text still blocks here.
    """
    return in_force(job) or issued_apart(prepared_late(job, now, code), actor, now)


def issue_beforehand(
    *, job: Job, actor: Actor, now: datetime, code: Callable[[], str] = new_code
) -> Certificate:
    """For the planned handover day, before it has come; replaced by itself when it moves. Raises Blocked.

    What concerns the handover itself is asked when it comes; what the law warns about in the text blocks.
    """
    return in_force(job) or issued_apart(prepared_beforehand(job, now, code), actor, now)


def issued_apart(prepared: PreparedCertificate, actor: Actor, now: datetime) -> Certificate:
    with transaction.atomic():
        return issue_prepared(prepared=prepared, actor=actor, now=now)


def prepared_late(job: Job, now: datetime, code: Callable[[], str] = new_code) -> PreparedCertificate:
    """Printed and signed, and nobody has it yet. Raises Blocked."""
    at = load_situation(job, now)
    return prepared_for(at, job.handed_over_on, now, code)


def prepared_beforehand(job: Job, now: datetime, code: Callable[[], str] = new_code) -> PreparedCertificate:
    at, day = load_situation(job, now), job.planned_handover_on
    ahead = day is not None and day >= at.today and at.is_customers
    return prepared_for(at, day if ahead else None, now, code)


def prepared_for(
    at: Situation, day: date | None, now: datetime, code: Callable[[], str]
) -> PreparedCertificate:
    hindering = tuple(gap for gap in gaps_of(at) if gap.blocks or (gap.only_owner and not gap.answered))
    if hindering or at.plan is None or day is None:
        raise Blocked(hindering)
    return prepare_certificate(
        job=at.job, plan_version=at.plan, handed_over_on=day, now=now, code=code, read=at.read
    )


def give_reasons(*, job: Job, reasons: Mapping[str, str], actor: Actor, now: datetime) -> int:
    """Kept beforehand, so that somebody else can hand over. Raises OwnerAsked; blank ones are left out."""
    at = load_situation(job, now)
    asked = [gap for gap in gaps_of(at) if gap.asks and not gap.answered and reasons.get(gap.key, "").strip()]
    owners = tuple(gap for gap in asked if gap.only_owner)
    if owners and not (actor.member and actor.member.is_owner):
        raise OwnerAsked(owners)
    rows = ReasonGiven.objects.bulk_create(
        ReasonGiven(
            job=job, question=gap.key[:80], reason=reasons[gap.key].strip(), member=actor.member, at=now
        )
        for gap in asked
    )
    return len(rows)


def next_check(checks: Iterator[Check] | tuple[Check, ...], after: object) -> Check | None:
    """The first check offered to the holder that lies ahead."""
    ahead = [check for check in checks if check.plan.offered_to_holder and check.due_on > after]  # type: ignore[operator]
    return min(ahead, key=lambda check: check.due_on, default=None)
