"""A job from its opening until it is ready: method, sessions, job-level values, safety notes."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any
from uuid import UUID, uuid4

from django.db import transaction

from shopwarranty.shops.history import Actor, next_number, record_change
from shopwarranty.shops.models import Bay, Member
from shopwarranty.trade.technique import BY_KEY

from ..models import Deviation, Job, JobSession, MethodVersion, Vehicle
from ..technique_rows import JOB_FIELDS, Said, as_text, columns_of, from_text
from ..usual import compared_with, differs, usual_of_job, usual_of_panel, usual_of_place
from .confirming import take_back_confirmation
from .refusals import InTheFuture, NoMethod, ReasonForCorrection
from .values import (
    Target,
    clear_by_method,
    fill_by_method,
    guard_correction,
    save_next_version,
    set_own_field,
    write_values,
)
from .vehicles import change_row

KIND_OF = {"customer": Job.Kind.CUSTOMER, "shop": Job.Kind.OWN, "panel": Job.Kind.TEST_PANEL}
SAFETY_NOTES = ("makers_procedure", "sensors_clear", "blades_returned")


@transaction.atomic
def open_job(
    *,
    vehicle: Vehicle,
    actor: Actor,
    now: datetime,
    method_version: MethodVersion | None = None,
    no_method_reason: str = "",
    kind: str = "",
    ref: str = "",
    started_at: datetime | None = None,
    bay: Bay | None = None,
    planned_handover_on: date | None = None,
    quoted_months: int | None = None,
    note: str = "",
    uid: UUID | None = None,
) -> Job:
    """A new job. The same `uid` sent twice is the same job. `started_at` before `now` marks a late entry."""
    if uid and (there := Job.objects.filter(uid=uid).first()):
        return there  # before a number is given out
    if started_at and started_at > now:
        raise InTheFuture
    values: dict[str, Any] = {
        "ref": ref or free_ref(),
        "vehicle": vehicle,
        "kind": kind or KIND_OF[vehicle.owned],
        "method_version": method_version,
        "no_method_reason": "" if method_version else no_method_reason,
        "started_at": started_at or now,
        "entered_at": now,
        "bay": bay,
        "planned_handover_on": planned_handover_on,
        "quoted_months": quoted_months,
        "note": note,
    }
    job, new = Job.objects.get_or_create(uid=uid or uuid4(), defaults=values)
    if not new:
        return job
    after = {"ref": job.ref, "method": str(method_version or ""), "started_at": job.started_at}
    record_change(row=job, act="job opened", actor=actor, at=now, after=after, why=job.no_method_reason)
    return job


def free_ref() -> str:
    """The next number that no imported job carries already."""
    while Job.objects.filter(ref=(ref := str(next_number("job")))).exists():
        continue
    return ref


@transaction.atomic
def change_job(*, job: Job, values: dict[str, Any], actor: Actor, now: datetime, why: str = "") -> Job:
    """`bay`, `planned_handover_on`, `quoted_months`, `note`, `kind`, or `started_at` of a late entry."""
    if values.get("started_at") and values["started_at"] > now:
        raise InTheFuture
    if job.state != Job.State.OPEN and not why:
        raise ReasonForCorrection
    changed: Job = change_row(job, values, act="job changed", actor=actor, now=now, why=why)
    return changed


@transaction.atomic
def note_safety(*, job: Job, answers: Mapping[str, str], actor: Actor, now: datetime) -> Job:
    """What was said about the maker's procedure, sensors and blades. Nothing is assumed, nothing blocks."""
    values = {name: answer for name, answer in answers.items() if name in SAFETY_NOTES}
    noted: Job = change_row(job, values, act="safety notes", actor=actor, now=now)
    return noted


@transaction.atomic
def change_method(
    *,
    job: Job,
    method_version: MethodVersion | None,
    actor: Actor,
    now: datetime,
    no_method_reason: str = "",
    reason: str = "",
) -> Job:
    """The job follows another version, or none. Panels confirmed by the old one have to be confirmed again;
    what somebody stated stays, held against the new method."""
    guard_correction(job, None, reason)
    before = str(job.method_version or job.no_method_reason)
    job.method_version, job.no_method_reason = method_version, "" if method_version else no_method_reason
    job.save(update_fields=["method_version", "no_method_reason"])
    for panel_work in job.panels.filter(confirmed_at__isnull=False):
        take_back_confirmation(panel_work)
    take_back_job_confirmation(job)
    hold_against_new_method(job, now)
    after = str(method_version or no_method_reason)
    record_change(
        row=job,
        act="method",
        actor=actor,
        at=now,
        before={"method": before},
        after={"method": after},
        why=reason,
    )
    return job


def hold_against_new_method(job: Job, now: datetime) -> None:
    """Every standing deviation is compared afresh: one that is the new usual way is none any more."""
    rows = Deviation.objects.filter(job=job, undone_at__isnull=True).select_related("panel_work", "place")
    for row in rows:
        usual = usual_of_deviation(job, row)
        value = value_of_deviation(row)
        Deviation.objects.filter(pk=row.pk).update(undone_at=now)
        if differs(usual, row.field, value):
            row.pk, row.undone_at, row.usual = None, None, as_text(compared_with(usual, row.field))
            row.save()


def usual_of_deviation(job: Job, row: Deviation) -> dict[str, Any]:
    if row.panel_work:
        row.panel_work.job = job
        if row.place:
            return usual_of_place(row.panel_work, row.place)
        return usual_of_panel(row.panel_work)
    return usual_of_job(job)


def value_of_deviation(row: Deviation) -> Any:
    return from_text(BY_KEY[row.field], row.actual)


@transaction.atomic
def set_job_values(
    *,
    job: Job,
    values: Mapping[str, Said],
    actor: Actor,
    now: datetime,
    own: Mapping[str, Said] | None = None,
    reason: str = "",
    version: int | None = None,
) -> Job:
    """Technique values of the job as a whole. `own` are shop-defined fields, by key."""
    fresh = (
        Job.objects.select_related("method_version__method").select_for_update(of=("self",)).get(pk=job.pk)
    )
    guard_correction(fresh, None, reason)
    target = Target(fresh)
    write_values(target, values, usual_of_job(fresh), actor=actor, now=now, reason=reason, version=version)
    for key, said in (own or {}).items():
        set_own_field(
            target=target, key=key, value=as_text(said.value), basis=said.basis, actor=actor, now=now
        )
    return fresh


@transaction.atomic
def confirm_job(*, job: Job, actor: Actor, now: datetime, reason: str = "") -> Job:
    """What the method says for the job as a whole counts from now on."""
    fresh = (
        Job.objects.select_related("method_version__method").select_for_update(of=("self",)).get(pk=job.pk)
    )
    guard_correction(fresh, None, reason)
    if fresh.method_version is None:
        raise NoMethod
    target = Target(fresh)
    spoken = frozenset(row.field for row in target.deviations)
    filled = fill_by_method(target, usual_of_job(fresh), spoken)
    fresh.confirmed_at, fresh.confirmed_by = now, actor.member
    columns = [column for key in filled for column in columns_of(key)]
    save_next_version(fresh, [*columns, "confirmed_at", "confirmed_by"])
    record_change(row=fresh, act="confirmed by method", actor=actor, at=now, after={"fields": filled})
    return fresh


def take_back_job_confirmation(job: Job) -> None:
    fresh = Job.objects.get(pk=job.pk)
    cleared = clear_by_method(fresh, JOB_FIELDS)
    fresh.confirmed_at = fresh.confirmed_by = None
    columns = [column for key in cleared for column in columns_of(key)]
    save_next_version(fresh, [*columns, "confirmed_at", "confirmed_by"])


@transaction.atomic
def start_session(
    *, job: Job, member: Member | None, actor: Actor, now: datetime, started_at: datetime | None = None
) -> JobSession:
    """Work starts, or goes on after a pause."""
    session = JobSession.objects.create(job=job, member=member, started_at=started_at or now)
    after = {"started_at": session.started_at}
    record_change(row=job, act="session started", actor=actor, at=now, after=after)
    return session


@transaction.atomic
def stop_session(
    *, session: JobSession, actor: Actor, now: datetime, stopped_at: datetime | None = None
) -> None:
    at = stopped_at or now
    if JobSession.objects.filter(pk=session.pk, stopped_at__isnull=True).update(stopped_at=at):
        record_change(row=session.job, act="session stopped", actor=actor, at=now, after={"stopped_at": at})


@transaction.atomic
def say_ready(*, job: Job, actor: Actor, now: datetime, ready: bool = True) -> Job:
    """The bay says that the job is ready for handover, or takes that back."""
    values = {"ready_at": now if ready else None}
    said: Job = change_row(job, values, act="ready" if ready else "not ready", actor=actor, now=now)
    return said
