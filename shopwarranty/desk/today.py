"""The day at a glance: whom to call, what comes in, what is to be handed over, and one number of the week."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Count, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from shopwarranty.claims.maker.listing import Standing, standing
from shopwarranty.inspections import selectors
from shopwarranty.inspections.check_rows import CheckRow, row_of
from shopwarranty.inspections.models import Booking, Check, HolderReport
from shopwarranty.jobs.models import Job, PanelWork
from shopwarranty.shops.models import Member, Shop

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
    to_call: list[CheckRow]
    calls: int
    reports: int
    to_makers: Standing
    coming_in: list[Booking]
    to_hand_over: list[Any]
    unfinished: list[Any]
    week: WeekNumber
    does_desk: bool
    does_work: bool


def load_today(shop: Shop, member: Member, now: datetime) -> Today:
    """A fixed number of queries, however large the shop."""
    on = now.astimezone(shop.zone).date()
    roles = member.roles
    jobs = list(open_jobs())
    to_call, calls = selectors.first_to_call(on, now, AT_MOST)
    return Today(
        on=on,
        to_call=[row_of(check, shop, on) for check in to_call],
        calls=calls,
        reports=HolderReport.objects.filter(state=HolderReport.State.WAITING).count(),
        to_makers=standing(on),
        coming_in=list(selectors.coming_in(shop, on)),
        to_hand_over=[job for job in jobs if job.panels_all and job.panels_open == 0],
        unfinished=[job for job in jobs if job.panels_open or not job.panels_all],
        week=week_number(on),
        does_desk=bool(roles & {"desk", "owner"}),
        does_work=bool(roles & {"installer", "owner"}),
    )


def open_jobs() -> Any:
    """Jobs not handed over yet, newest first, with how many panels are still to be finished."""
    work = PanelWork.objects.filter(job=OuterRef("pk")).order_by()
    rows = Job.objects.still_open().with_vehicle()
    return rows.annotate(
        panels_all=counted(work), panels_open=counted(work.filter(finished_at__isnull=True))
    ).order_by("-started_at", "-pk")[: AT_MOST * 2]


def counted(panels: "QuerySet[PanelWork]") -> Coalesce:
    """Of each job that is shown; over a join all open ones would be counted first."""
    return Coalesce(Subquery(panels.values("job").annotate(n=Count("pk")).values("n")), 0)


def week_number(on: date) -> WeekNumber:
    rows = Check.objects.filter(due_on__gt=on - FOUR_WEEKS, due_on__lte=on, plan__offered_to_holder=True)
    counts = rows.exclude(state=Check.State.WAIVED).aggregate(
        due=Count("pk"), done=Count("pk", filter=Q(state=Check.State.DONE))
    )
    return WeekNumber(done=counts["done"], due=counts["due"])
