"""What the holder's page says: the next check, what was reported, what is covered and whom to call."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final

from django.db.models import F, QuerySet

from shopwarranty.jobs.models import HolderLink
from shopwarranty.shops.models import Shop
from shopwarranty.warranty.certificate_drawing import drawing_of
from shopwarranty.warranty.models import Certificate
from shopwarranty.warranty.paper_words import CoverRow, cover_rows
from shopwarranty.warranty.public_views import standing
from shopwarranty.warranty.snapshot_parts import Snapshot, read_snapshot
from shopwarranty.warranty.transfers import ended_by_sale
from shopwarranty.web.vehicle import VehicleDrawing

from ..actions.bookings import WANTS_A_TIME
from ..actions.plans import HANDOVER
from ..choosing_a_time import Choice, load_choice
from ..free_places import FreePlace
from ..models import Booking, Check, HolderReport
from .links import Scope

TIMES_SHOWN: Final = 4
STILL_OFFERED: Final = timedelta(days=120)
BOOKED: Final = Booking.State.BOOKED
REPORTS_SHOWN: Final = 3


@dataclass(frozen=True, slots=True)
class Paper:
    """One certificate; `opens`: whether its file may be had from this link."""

    certificate: Certificate
    snapshot: Snapshot
    standing: str
    covered: tuple[CoverRow, ...]
    drawing: VehicleDrawing
    opens: bool


@dataclass(frozen=True, slots=True)
class NextCheck:
    """The check to come, with its time or with times to choose from. `can_change`: it has not begun yet.

    `opens_on`: the day from which a time can be had, while that is still to come.
    """

    check: Check
    booking: Booking | None = None
    times: tuple[FreePlace, ...] = ()
    can_change: bool = True
    opens_on: date | None = None


@dataclass(frozen=True, slots=True)
class HolderPage:
    next: NextCheck | None
    later: tuple[Check, ...]
    last_done: Check | None
    reports: tuple[HolderReport, ...]
    papers: tuple[Paper, ...]
    may_stop: bool


def load_page(link: HolderLink, now: datetime, today: date) -> HolderPage:
    """A fixed number of queries for a vehicle."""
    open_ones = open_checks(link, today)
    first = open_ones[0] if open_ones else None
    done = checks_of(link).filter(state=Check.State.DONE).order_by("-settled_at").first()
    return HolderPage(
        next=_next(link.shop, first, now, today) if first else None,
        later=tuple(open_ones[1:3]),
        last_done=done,
        reports=tuple(
            HolderReport.objects.filter(vehicle=link.vehicle, party=link.party).select_related("visit")[
                :REPORTS_SHOWN
            ]
        ),
        papers=papers_of(link, today),
        may_stop=link.scope == Scope.HOLDER,
    )


def checks_of(link: HolderLink) -> "QuerySet[Check]":
    """What the holder may see and move: looks at the own vehicle that are offered, not the shop's routine."""
    rows = Check.objects.filter(job__vehicle=link.vehicle_id, plan__offered_to_holder=True)
    return rows.exclude(plan__key=HANDOVER).select_related("plan", "job__vehicle", "shop")


def open_checks(link: HolderLink, today: date) -> list[Check]:
    """The one with a time first, then the nearest.

    The latest missed one is still on offer for a while, as long as no other has begun.
    """
    rows = list(checks_of(link).filter(state__in=WANTS_A_TIME).order_by("due_on", "pk"))
    booked = set(Booking.objects.filter(check_due__in=rows, state=BOOKED).values_list("check_due", flat=True))
    missed = [row for row in rows if row.state == Check.State.MISSED and row.pk not in booked]
    begun = any(row.state == Check.State.DUE and row.window_from <= today for row in rows)
    last = [row for row in missed[-1:] if not begun and row.window_to >= today - STILL_OFFERED]
    gone = {row.pk for row in missed} - {row.pk for row in last}
    kept = (row for row in rows if row.pk not in gone)
    return sorted(kept, key=lambda row: (row.pk not in booked, row.due_on, row.pk))


def standing_booking(check: Check) -> Booking | None:
    return check.bookings.filter(state=BOOKED).select_related("shop", "check_due__plan").first()


def _next(shop: Shop, check: Check, now: datetime, today: date) -> NextCheck:
    booking = standing_booking(check)
    if booking is not None:
        return NextCheck(check, booking, can_change=booking.starts_at > now)
    opens_on = check.window_from - timedelta(days=shop.ahead_days)
    if opens_on > today:
        return NextCheck(check, opens_on=opens_on)
    choice = load_choice(shop, check, now=now, today=today)
    return NextCheck(check, times=spread(choice))


def spread(choice: Choice) -> tuple[FreePlace, ...]:
    """Four times to press: the first and the last of each day, nearest days first."""
    found = [place for day in choice.days for place in dict.fromkeys((day.places[0], day.places[-1]))]
    return tuple(found[:TIMES_SHOWN])


def papers_of(link: HolderLink, today: date) -> tuple[Paper, ...]:
    rows = list(
        Certificate.objects.filter(vehicle=link.vehicle_id, state=Certificate.State.ISSUED)
        .exclude(holder_hidden_at__isnull=False)
        .select_related("job", "shop")
        .order_by(F("job__handed_over_on").desc(nulls_last=True), "-pk")
    )
    sold = ended_by_sale(rows)
    return tuple(_paper(row, link, today, sold.get(row.pk)) for row in rows)


def _paper(row: Certificate, link: HolderLink, today: date, sold_on: date | None) -> Paper:
    snapshot = read_snapshot(row.snapshot)
    return Paper(
        certificate=row,
        snapshot=snapshot,
        standing=standing(row, snapshot, today, sold_on),
        covered=tuple(cover_rows(snapshot)),
        drawing=drawing_of(snapshot, on_paper=False),
        opens=link.scope == Scope.HOLDER and row.holder_id == link.party_id,
    )
