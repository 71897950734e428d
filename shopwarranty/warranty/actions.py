"""What changes in the warranty room: certificates are issued, replaced, withdrawn, sent again.

Preparing is slow (drawing, PDF) and happens outside any transaction; issuing writes rows only, inside the
transaction of whoever calls. Giving the same act twice issues once.
"""

from collections.abc import Callable
from datetime import datetime

from django.db import IntegrityError, transaction

from shopwarranty.jobs.models import Holding, Job
from shopwarranty.outbox.models import Message
from shopwarranty.shops.history import Actor, StaleState, move_state, record_change

from .models import Certificate, Cover, PlanVersion
from .preparing import PreparedCertificate, prepare_certificate, prepare_edition, preview_of
from .public_code import new_code
from .refusals import AlreadyInForce, HolderDiffers, NoAddressOfHolder, NotInForce, ReasonNeeded
from .telling import tell_again, tell_issued, tell_withdrawn, times_sent, unsay_waiting

__all__ = [
    "PreparedCertificate",
    "in_force",
    "issue_prepared",
    "prepare_certificate",
    "prepare_edition",
    "preview_of",
    "replace_certificate",
    "resend_certificate",
    "withdraw_certificate",
]
State = Certificate.State


def in_force(job: Job) -> Certificate | None:
    found: Certificate | None = Certificate.objects.filter(job=job, state=State.ISSUED).first()
    return found


def issue_prepared(
    *, prepared: PreparedCertificate, actor: Actor, now: datetime, why: str = ""
) -> Certificate:
    """Writes the rows. Call inside the transaction of the act it belongs to.

    A first edition raises AlreadyInForce when somebody was quicker; a later one replaces its predecessor and
    raises NotInForce when that is no longer the one in force.
    """
    before = prepared.predecessor
    if before is not None:
        try:
            move_state(
                before, old=State.ISSUED, new=State.REPLACED, actor=actor, at=now, why=why, replaced_at=now
            )
            unsay_waiting(before, now=now)
        except StaleState as stale:
            raise NotInForce from stale
    try:
        with transaction.atomic():
            return write_rows(prepared, actor, now, why)
    except IntegrityError as clash:
        if Certificate.objects.filter(job=prepared.job_id, state=State.ISSUED).exists():
            raise AlreadyInForce from clash
        raise


def write_rows(prepared: PreparedCertificate, actor: Actor, now: datetime, why: str) -> Certificate:
    shot = prepared.snapshot
    certificate: Certificate = Certificate.objects.create(
        job_id=prepared.job_id,
        vehicle_id=Job.objects.values_list("vehicle_id", flat=True).get(pk=prepared.job_id),
        holder_id=prepared.holder_id,
        plan_version_id=shot.terms.version_id,
        number=shot.number,
        edition=shot.edition,
        code=shot.code,
        predecessor=prepared.predecessor,
        issued_at=shot.issued_at,
        issued_on=shot.issued_on,
        issued_by=actor.member,
        starts_on=shot.starts_on,
        last_day=shot.last_day,
        legal_profile=shot.legal.profile,
        language=shot.language,
        snapshot=shot.as_json(),
        snapshot_sha256=shot.sha256,
        pdf_sha256=prepared.pdf.sha256,
        pdf_length=prepared.pdf.length,
    )
    Cover.objects.bulk_create(
        Cover(
            certificate=certificate,
            piece_id=cover.piece.id,
            line=cover.line,
            starts_on=cover.dates.first_day,
            last_day=cover.last_day,
        )
        for cover in prepared.built.covers
    )
    after = {"number": shot.number, "edition": shot.edition, "pdf": prepared.pdf.sha256}
    record_change(row=certificate, act="issued", actor=actor, at=now, after=after, why=why)
    return certificate


def replace_certificate(
    *,
    certificate: Certificate,
    why: str,
    actor: Actor,
    now: datetime,
    plan_version: PlanVersion | None = None,
    wrong_holder: bool = False,
    code: Callable[[], str] = new_code,
) -> Certificate:
    """A correction or a supplement as the next edition; whoever was sent the one before gets it too.

    Another holder of the vehicle is a sale and goes by the terms (`transfers.transfer_vehicle`), unless
    `wrong_holder` says that the person named never was the one. Raises ReasonNeeded, HolderDiffers,
    NothingDiffers or NotInForce.
    """
    if not why.strip():
        raise ReasonNeeded
    if certificate.state != State.ISSUED:
        raise NotInForce
    if not wrong_holder and holder_moved(certificate):
        raise HolderDiffers
    prepared = prepare_edition(certificate=certificate, now=now, plan_version=plan_version, code=code)
    with transaction.atomic():
        issued = issue_prepared(prepared=prepared, actor=actor, now=now, why=why)
        if times_sent(certificate):
            tell_issued(issued, now=now)
    return issued


def holder_moved(certificate: Certificate) -> bool:
    """Whether somebody else holds the vehicle now than the certificate names."""
    role = Holding.Role.HOLDER
    now = Holding.objects.filter(vehicle=certificate.vehicle_id, role=role, until__isnull=True).first()
    return now is not None and now.party_id != certificate.holder_id


@transaction.atomic
def withdraw_certificate(
    *, certificate: Certificate, reason: str, note: str, actor: Actor, now: datetime
) -> None:
    """Only for the reasons of the closed list. It is never deleted, and rights under law are untouched."""
    if reason not in Certificate.WithdrawnReason.values or not note.strip():
        raise ReasonNeeded
    try:
        move_state(
            certificate,
            old=State.ISSUED,
            new=State.WITHDRAWN,
            actor=actor,
            at=now,
            why=note,
            withdrawn_at=now,
            withdrawn_by_id=actor.member.pk if actor.member else None,
            withdrawn_reason=reason,
        )
    except StaleState as stale:
        raise NotInForce from stale
    unsay_waiting(certificate, now=now)
    tell_withdrawn(certificate, now=now)


@transaction.atomic
def resend_certificate(*, certificate: Certificate, nth: int, actor: Actor, now: datetime) -> Message:
    """The stored bytes again, to the holder's present address. The same `nth` twice sends once.

    The mail says that the promise stands: one that was replaced or withdrawn raises NotInForce. Raises
    NoAddressOfHolder.
    """
    if not Certificate.objects.filter(pk=certificate.pk, state=State.ISSUED).exists():
        raise NotInForce
    known = Message.objects.filter(key=f"certificate:{certificate.pk}:again:{nth}").first()
    message = tell_again(certificate, nth=nth, now=now)
    if message is None:
        raise NoAddressOfHolder
    if known is None:
        after = {"to": message.to, "pdf": certificate.pdf_sha256}
        record_change(row=certificate, act="sent again", actor=actor, at=now, after=after)
    return message
