"""The vehicle in front of us again: starting a visit, finishing it, and what that settles."""

from collections.abc import Collection
from datetime import date, datetime
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import Q, QuerySet

from shopwarranty.inspections.due_dates import settles
from shopwarranty.jobs.models import Job, Place
from shopwarranty.shops.history import Actor, StaleState, move_state, record_change
from shopwarranty.trade.panels import PlaceKind

from ..models import Booking, Check, CheckPlan, Finding, Visit
from ..opening import day_span
from ..signals import findings_changed
from .bookings import cancel_booking
from .plans import HANDOVER, window_of
from .refusals import AnotherVisitOpen, HandedOverAlready, InTheFuture, NotFinishedYet, VisitOver

UNSETTLED = (Check.State.DUE, Check.State.MISSED)
SETTLING = (Visit.Origin.PLANNED, Visit.Origin.WALK_IN)


def live_places(job: Job, on: date) -> "QuerySet[Place]":
    """Places there were to look at on that day: of finished panels, with their film still on the vehicle."""
    places = Place.objects.filter(piece__panel_work__job=job, piece__panel_work__finished_at__isnull=False)
    return places.exclude(piece__ended_on__lte=on).exclude(piece__panel_work__removed_on__lte=on)


def asked_places(visit: Visit) -> "QuerySet[Place]":
    """What the visit is for: every place there was, or the recesses where its plan asks for these alone.

    A vehicle without a recess is looked at everywhere. Anything else may be said of the other places, too.
    """
    places = live_places(visit.job, visit.happened_on)
    if visit.check_due is None or visit.check_due.plan.places != CheckPlan.Places.RECESSES:
        return places
    recesses = places.filter(kind=PlaceKind.RECESS)
    return recesses if recesses.exists() else places


@transaction.atomic
def start_visit(
    *,
    job: Job,
    origin: str,
    actor: Actor,
    now: datetime,
    today: date,
    check: Check | None = None,
    happened_on: date | None = None,
    by_photo: bool = False,
    is_handover_look: bool = False,
    since_when: date | None = None,
    since_when_words: str = "",
    **more: Any,
) -> Visit:
    """Opens a visit, or gives back the one that is open. Nothing is settled before it is finished.

    A planned or walk-in visit looks for the check whose window holds its day. One that came back because of a
    defect or a claim never settles a check: the vehicle is still invited to its next one. The handover look
    ends with the handover: later it would turn failures into rework. There is one a job; finished before
    every place was looked at, it is opened again.
    """
    on = happened_on or today
    _guard_start(job, on, today, is_handover_look)
    already = _open_visit(job, by_photo)
    if already is not None:
        if is_handover_look and not already.is_handover_look:
            raise AnotherVisitOpen
        return already
    if is_handover_look and (ended := _ended_look(job)) is not None:
        return _open_again(ended, actor, now)
    if check is None and origin in SETTLING and not (by_photo or is_handover_look):
        check = check_on(job, on)
    return _save(
        Visit(
            job=job,
            origin=origin,
            check_due=check,
            booking=_booking_on(check, on, by_photo),
            happened_on=on,
            by_photo=by_photo,
            is_handover_look=is_handover_look,
            since_when=since_when,
            since_when_words=since_when_words,
            started_at=now,
            entered_at=now,
            member=actor.member,
            **more,
        )
    )


def _guard_start(job: Job, on: date, today: date, is_handover_look: bool) -> None:
    """Raises InTheFuture, HandedOverAlready or NotFinishedYet."""
    if on > today:
        raise InTheFuture
    if is_handover_look and job.state != Job.State.OPEN:
        raise HandedOverAlready
    if not live_places(job, on).filter(_finished_by(job, on)).exists():
        raise NotFinishedYet


def _ended_look(job: Job) -> Visit | None:
    rows = Visit.objects.filter(job=job, is_handover_look=True, state=Visit.State.FINISHED)
    ended: Visit | None = rows.first()
    return ended


def _open_again(look: Visit, actor: Actor, now: datetime) -> Visit:
    """Panels finished after the look, or left out of it, are looked at in it. Raises VisitOver."""
    seen = look.findings.filter(corrected_at__isnull=True).exclude(result=Finding.Result.NOT_LOOKED)
    unseen = live_places(look.job, look.happened_on).exclude(pk__in=seen.values("place_id"))
    if not unseen.exists():
        raise VisitOver
    finished, opened = Visit.State.FINISHED, Visit.State.OPEN
    move_state(look, old=finished, new=opened, actor=actor, at=now, finished_at=None)
    look.findings.filter(said=Finding.Said.LEFT).delete()
    return look


def _finished_by(job: Job, day: date) -> Q:
    """A look dated before the film was laid would count for nothing, whatever it saw."""
    return Q(piece__panel_work__finished_at__lt=day_span(job.shop, day, day)[1])


def check_on(job: Job, day: date) -> Check | None:
    """The unsettled check whose window holds that day, the nearest due first."""
    open_ones = Check.objects.filter(
        job=job, state__in=UNSETTLED, window_from__lte=day, window_to__gte=day
    ).exclude(plan__key=HANDOVER)
    return min(open_ones, key=lambda check: (abs((check.due_on - day).days), check.pk), default=None)


def _open_visit(job: Job, by_photo: bool) -> Visit | None:
    return Visit.objects.filter(job=job, by_photo=by_photo, state=Visit.State.OPEN).first()


def _booking_on(check: Check | None, day: date, by_photo: bool) -> Booking | None:
    """The booking this visit keeps: of the same day, also one already taken for not kept."""
    if check is None or by_photo:
        return None
    rows = check.bookings.filter(
        starts_local__startswith=day.isoformat(),
        state__in=[Booking.State.BOOKED, Booking.State.NOT_KEPT],
    )
    return rows.order_by("state", "-starts_at").first()


def _save(visit: Visit) -> Visit:
    """Two people starting at once get the same visit."""
    try:
        with transaction.atomic():
            visit.save()
    except IntegrityError:
        already = _open_visit(visit.job, visit.by_photo)
        if already is None:
            raise
        return already
    return visit


@transaction.atomic
def drop_visit(*, visit: Visit, actor: Actor, now: datetime, why: str = "") -> None:
    """Started by mistake: it says nothing, settles nothing."""
    _move(visit, Visit.State.DROPPED, actor, now, why)


@transaction.atomic
def finish_visit(
    *,
    visit: Visit,
    actor: Actor,
    now: datetime,
    note: str | None = None,
    signed_name: str = "",
    shown: Collection[int] = (),
) -> Visit:
    """Closes the visit. What it asks for, or showed besides, and nobody said anything about, is written down
    as not looked at.

    When something was looked at, the booking is kept and a check due by then is done; an early visit, one by
    photo, or one in which nothing could be looked at leaves the check open.
    """
    more: dict[str, Any] = {} if note is None else {"note": note}
    if visit.is_handover_look:
        more["happened_on"] = _last_day(visit, now)
    _move(visit, Visit.State.FINISHED, actor, now, finished_at=now, signed_name=signed_name, **more)
    _write_down_unseen(visit, shown, now)
    _keep_booking(visit, actor, now)
    if settles_its_check(visit):
        _settle(visit, actor, now)
    findings_changed.send(sender=Visit, job_ids=[visit.job_id])
    return visit


def _last_day(visit: Visit, now: datetime) -> date:
    """A handover look that went on over days is of the day it ended; one typed in late keeps its day."""
    zone = visit.shop.zone
    late = visit.started_at.astimezone(zone).date() > visit.happened_on
    return visit.happened_on if late else max(visit.happened_on, now.astimezone(zone).date())


def settles_its_check(visit: Visit) -> bool:
    if visit.check_due is None or visit.by_photo or visit.origin not in SETTLING:
        return False
    looked = visit.findings.exclude(result=Finding.Result.NOT_LOOKED).exists()
    return looked and settles(window_of(visit.check_due), visit.happened_on)


def _move(visit: Visit, state: str, actor: Actor, now: datetime, why: str = "", **more: Any) -> None:
    try:
        move_state(visit, old=Visit.State.OPEN, new=state, actor=actor, at=now, why=why, **more)
    except StaleState as stale:
        raise VisitOver from stale


def _write_down_unseen(visit: Visit, shown: Collection[int], now: datetime) -> None:
    said = visit.findings.filter(corrected_at__isnull=True).values("place_id")
    asked = Q(pk__in=asked_places(visit).values("pk")) | Q(pk__in=shown)
    silent = live_places(visit.job, visit.happened_on).filter(asked).exclude(pk__in=said)
    order = visit.findings.count()
    Finding.objects.bulk_create(
        Finding(
            visit=visit,
            place=place,
            result=Finding.Result.NOT_LOOKED,
            said=Finding.Said.LEFT,
            at=now,
            order=order + number,
        )
        for number, place in enumerate(silent, 1)
    )


def _keep_booking(visit: Visit, actor: Actor, now: datetime) -> None:
    """A booking moved or called off while the vehicle was looked at takes nothing away from what was seen."""
    if visit.booking is None:
        return
    old = (Booking.State.BOOKED, Booking.State.NOT_KEPT)
    try:
        move_state(visit.booking, old=old, new=Booking.State.KEPT, actor=actor, at=now, changed_at=now)
    except StaleState:
        record_change(row=visit, act="booking was moved or called off", actor=actor, at=now)


def _settle(visit: Visit, actor: Actor, now: datetime) -> None:
    """Done, late if it was missed. A time still booked for another day is called off."""
    check = visit.check_due
    assert check is not None
    try:
        move_state(
            check, old=UNSETTLED, new=Check.State.DONE, actor=actor, at=now, state_why="", settled_at=now
        )
    except StaleState:
        record_change(row=visit, act="check was settled already", actor=actor, at=now)
        return
    for booking in check.bookings.filter(state=Booking.State.BOOKED):
        cancel_booking(booking=booking, by_holder=True, actor=actor, now=now)
