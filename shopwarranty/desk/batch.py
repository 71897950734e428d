"""Certificates issued together. Choosing writes the list; the worker goes through it, one after the other.

Each certificate is an act of its own: printed outside, then written with its line and its mail in one
transaction, so that a worker that is stopped goes on where it was, and nothing is issued or sent twice.
"""

import logging
import time
import uuid
from collections.abc import Callable, Iterable
from datetime import datetime, timedelta
from typing import Final

from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import override

from shopwarranty.jobs.models import Job
from shopwarranty.shops.again import again
from shopwarranty.shops.history import Actor, record_change
from shopwarranty.shops.models import Shop
from shopwarranty.shops.scope import every_shop, shop_scope
from shopwarranty.warranty.actions import PreparedCertificate, in_force, issue_prepared
from shopwarranty.warranty.models import Certificate
from shopwarranty.warranty.preparing import public_base
from shopwarranty.warranty.refusals import AlreadyInForce, CertificateRefusal
from shopwarranty.warranty.snapshot import NoHolder, NothingToCertify
from shopwarranty.warranty.telling import tell_issued

from .handover import Blocked, prepared_beforehand, prepared_late
from .models import BatchLine, CertificateBatch

log = logging.getLogger(__name__)
State = BatchLine.State
PASS_SECONDS: Final = 30.0
"""How long one pass of the tick goes on; mails and all other steps wait meanwhile."""
GIVEN_UP_AFTER: Final = timedelta(minutes=10)
"""A pass that holds a line for longer was killed; the next one takes the line up again."""


class NothingChosen(Exception):
    """A batch is about at least one job."""


@transaction.atomic
def start_batch(
    *, jobs: Iterable[int], mail: bool, actor: Actor, now: datetime, uid: uuid.UUID
) -> CertificateBatch:
    """The same `uid` twice starts once. Raises NothingChosen."""
    there = CertificateBatch.objects.filter(uid=uid).first()
    if there is not None:
        return there
    chosen = list(Job.objects.filter(pk__in=list(jobs)).order_by("handed_over_on", "pk"))
    if not chosen:
        raise NothingChosen
    batch: CertificateBatch = CertificateBatch.objects.create(
        uid=uid, mail=mail, started_at=now, started_by=actor.member
    )
    BatchLine.objects.bulk_create((BatchLine(batch=batch, job=job) for job in chosen), batch_size=500)
    after = {"jobs": len(chosen), "mail": mail}
    record_change(row=batch, act="certificates asked for together", actor=actor, at=now, after=after)
    return batch


@transaction.atomic
def stop_batch(*, batch: CertificateBatch, actor: Actor, now: datetime) -> int:
    """What has not begun is left out; what is issued stays issued. Gives how many were left out."""
    left = batch.lines.filter(state=State.WAITING, claimed_at__isnull=True)
    stopped = left.update(state=State.STOPPED, at=now)
    if stopped:
        CertificateBatch.objects.filter(pk=batch.pk).update(stopped_at=now)
        record_change(row=batch, act="stopped", actor=actor, at=now, after={"left out": stopped})
    finish_when_done(batch, now)
    return stopped


def go_on(
    now: datetime, *, clock: Callable[[], float] = time.monotonic, seconds: float = PASS_SECONDS
) -> int:
    """A step of the tick: issues for a while. Gives how many jobs were settled."""
    until, settled = clock() + seconds, 0
    for shop_id in shops_with_work():
        shop = Shop.objects.get(pk=shop_id)
        with shop_scope(shop), timezone.override(shop.zone), override(shop.language):
            while clock() < until and (line := next_line(now)) is not None:
                settle(line, now)
                settled += 1
            for batch in CertificateBatch.objects.filter(finished_at__isnull=True):
                finish_when_done(batch, now)
    return settled


def shops_with_work() -> list[int]:
    with every_shop():
        return list(unfinished().order_by("shop_id").values_list("shop_id", flat=True).distinct())


def unfinished() -> "QuerySet[CertificateBatch]":
    return CertificateBatch.objects.filter(finished_at__isnull=True)


def next_line(now: datetime) -> BatchLine | None:
    """Claimed, so that two passes at once never print the same certificate.

    The claim asks only about columns of the line: PostgreSQL looks at those again after waiting
    for another pass.
    """
    free = Q(claimed_at__isnull=True) | Q(claimed_at__lt=now - GIVEN_UP_AFTER)
    rows = BatchLine.objects.filter(free, state=State.WAITING)
    open_first = rows.filter(batch__finished_at__isnull=True).order_by("batch__started_at", "pk")
    for pk in open_first.values_list("pk", flat=True)[:20]:
        if rows.filter(pk=pk).update(claimed_at=now):
            return BatchLine.objects.select_related("batch__started_by", "job__shop", "job__vehicle").get(
                pk=pk
            )
    return None


def settle(line: BatchLine, now: datetime) -> None:
    """One job: issued, had one already, or not issued, in words."""
    try:
        there = in_force(line.job)
        if there is not None:
            settled(line, State.ALREADY, now, certificate=there)
        elif Certificate.objects.filter(job=line.job).exists():
            raise CertificateRefusal  # withdrawn meanwhile: a person's to issue anew, at its job
        else:
            ready = prepared(line.job, now)
            again(lambda: issue(line, ready, now))
    except AlreadyInForce:
        settled(line, State.ALREADY, now, certificate=in_force(line.job))
    except (Blocked, CertificateRefusal, NoHolder, NothingToCertify) as refusal:
        settled(line, State.REFUSED, now, words=refusal_words(refusal))
    except Exception:
        log.exception("certificate of job %s in batch %s", line.job_id, line.batch_id)
        words = _("It failed for a reason that is not foreseen; the operator finds it in the log.")
        settled(line, State.REFUSED, now, words=words)


def prepared(job: Job, now: datetime) -> PreparedCertificate:
    public_base(job.shop)
    return prepared_beforehand(job, now) if job.state == Job.State.OPEN else prepared_late(job, now)


@transaction.atomic
def issue(line: BatchLine, ready: PreparedCertificate, now: datetime) -> None:
    """Certificate, mail and line are written together or not at all."""
    actor = Actor.of(line.batch.started_by) if line.batch.started_by else Actor(who="shopwarranty")
    certificate = issue_prepared(prepared=ready, actor=actor, now=now)
    if line.batch.mail:
        tell_issued(certificate, now=now)
    settled(line, State.ISSUED, now, certificate=certificate)


def settled(
    line: BatchLine, state: str, now: datetime, *, certificate: Certificate | None = None, words: str = ""
) -> None:
    waiting = BatchLine.objects.filter(pk=line.pk, state=State.WAITING)
    waiting.update(state=state, certificate=certificate, words=words, at=now)


def refusal_words(refusal: Exception) -> str:
    """What is missing, as the page of the handover says it."""
    if isinstance(refusal, Blocked):
        return " ".join(gap.words for gap in refusal.gaps) or _("No handover day is planned.")
    if isinstance(refusal, NoHolder):
        return _("Nobody is recorded as the warranty's holder.")
    if isinstance(refusal, NothingToCertify):
        return _("No panel is finished, or the plan promises nothing for the film on it.")
    return _("It cannot be issued as the record stands; open the job's handover to see what is missing.")


def finish_when_done(batch: CertificateBatch, now: datetime) -> None:
    unfinished = CertificateBatch.objects.filter(pk=batch.pk, finished_at__isnull=True)
    if not batch.lines.filter(state=State.WAITING).exists():
        unfinished.update(finished_at=now)
