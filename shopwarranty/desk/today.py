"""The day at a glance: whom to call, what comes in, what is to be handed over, and one number of the week."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Count, Exists, OuterRef, Q, Subquery

from shopwarranty.inspections.models import Booking, Check, ContactAttempt, HolderReport
from shopwarranty.jobs.models import Holding, Job, Plate
from shopwarranty.shops.models import Member, Shop

SOON = timedelta(days=3)
FOUR_WEEKS = timedelta(days=28)
AT_MOST = 12


@dataclass(frozen=True, slots=True)
class WeekNumber:
    """Of the planned checks that fell due in the last four weeks, how many ended in a look."""

    done: int
    due: int


@dataclass(frozen=True, slots=True)
class Today:
    on: date
    to_call: list[Any]
    calls: int
    coming_in: list[Any]
    to_hand_over: list[Any]
    unfinished: list[Any]
    reports: int
    week: WeekNumber
    does_desk: bool
    does_work: bool


def load_today(shop: Shop, member: Member, now: datetime) -> Today:
    """A fixed number of queries, however large the shop."""
    on = now.astimezone(shop.zone).date()
    roles = member.roles
    calls = checks_to_call(on, now)
    jobs = list(open_jobs())
    return Today(
        on=on,
        to_call=[with_last_words(check) for check in with_holder(calls)[:AT_MOST]],
        calls=calls.count(),
        coming_in=list(bookings_on(on, shop)),
        to_hand_over=[job for job in jobs if job.panels_open == 0 and job.panels_all],
        unfinished=[job for job in jobs if job.panels_open or not job.panels_all],
        reports=HolderReport.objects.filter(state=HolderReport.State.WAITING).count(),
        week=week_number(on),
        does_desk=bool(roles & {"desk", "owner"}),
        does_work=bool(roles & {"installer", "owner"}),
    )


def checks_to_call(on: date, now: datetime) -> Any:
    """Due within three days or overdue, without a time, and not to be left alone until later."""
    booked = Booking.objects.filter(check_due=OuterRef("pk"), state=Booking.State.BOOKED)
    last = ContactAttempt.objects.filter(check_due=OuterRef("pk")).order_by("-at", "-pk")
    rows = Check.objects.filter(state=Check.State.DUE, due_on__gt=on - FOUR_WEEKS * 6, due_on__lte=on + SOON)
    rows = rows.filter(plan__offered_to_holder=True).exclude(Exists(booked))
    rows = rows.annotate(
        last_result=Subquery(last.values("result")[:1]),
        last_note=Subquery(last.values("note")[:1]),
        last_at=Subquery(last.values("at")[:1]),
        again_at=Subquery(last.values("again_at")[:1]),
    )
    return rows.filter(Q(again_at__isnull=True) | Q(again_at__lte=now)).exclude(
        last_result=ContactAttempt.Result.DECLINED
    )


def with_holder(checks: Any) -> Any:
    """Adds whom to call: the contact of the vehicle, else its holder."""
    now_held = Holding.objects.filter(vehicle=OuterRef("job__vehicle"), until__isnull=True)
    # "contact" sorts before "holder", so the contact comes first where there is one
    person = now_held.filter(role__in=["contact", "holder"]).order_by("role", "-since")
    plate = Plate.objects.filter(vehicle=OuterRef("job__vehicle"), until__isnull=True).order_by("-since")
    rows = checks.select_related("plan", "job__vehicle").annotate(
        person_name=Subquery(person.values("party__name")[:1]),
        person_telephone=Subquery(person.values("party__telephone")[:1]),
        plate_now=Subquery(plate.values("text")[:1]),
    )
    return rows.order_by("due_on", "pk")


def with_last_words(check: Any) -> Any:
    check.last_words = dict(ContactAttempt.Result.choices).get(check.last_result, "")
    return check


def bookings_on(on: date, shop: Shop) -> Any:
    """The day's appointments in the shop's zone, kept ones included."""
    start = datetime.combine(on, datetime.min.time(), tzinfo=shop.zone)
    end = datetime.combine(on + timedelta(days=1), datetime.min.time(), tzinfo=shop.zone)
    plate = Plate.objects.filter(vehicle=OuterRef("check_due__job__vehicle"), until__isnull=True).order_by(
        "-since"
    )
    states = [Booking.State.BOOKED, Booking.State.KEPT, Booking.State.NOT_KEPT]
    rows = Booking.objects.filter(starts_at__gte=start, starts_at__lt=end, state__in=states)
    return rows.select_related("check_due__plan", "check_due__job__vehicle").annotate(
        plate_now=Subquery(plate.values("text")[:1])
    )


def open_jobs() -> Any:
    """Jobs not handed over yet, newest first, with how many panels are still to be finished."""
    unfinished = Q(panels__finished_at__isnull=True)
    rows = Job.objects.still_open().with_vehicle()
    return rows.annotate(
        panels_all=Count("panels", distinct=True),
        panels_open=Count("panels", filter=unfinished, distinct=True),
    ).order_by("-started_at")[: AT_MOST * 2]


def week_number(on: date) -> WeekNumber:
    rows = Check.objects.filter(due_on__gt=on - FOUR_WEEKS, due_on__lte=on, plan__offered_to_holder=True)
    counts = rows.exclude(state=Check.State.WAIVED).aggregate(
        due=Count("pk"), done=Count("pk", filter=Q(state=Check.State.DONE))
    )
    return WeekNumber(done=counts["done"], due=counts["due"])
