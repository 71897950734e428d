"""What the desk asks about checks. Each answer takes the same number of queries however large the shop."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any, Final

from django.db.models import Count, Exists, F, OuterRef, Q, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce, Greatest

from shopwarranty.jobs.models import Holding, Plate
from shopwarranty.jobs.plates import searched_form
from shopwarranty.shops.models import Shop

from .actions.plans import HANDOVER
from .free_places import FreePlace, packed
from .models import Booking, Check, CheckRules, ContactAttempt, Visit
from .opening import day_span, free_between, opening_of

SOON: Final = timedelta(days=3)
STOP_AFTER: Final = 3
"""How often somebody may stay away before they are left alone, unless the shop says otherwise."""

Rows = QuerySet[Check]


def checks_with_details() -> Rows:
    """For lists: vehicle, present plate, whom to call, time booked, last call."""
    return with_details(Check.objects.all())


def with_details(rows: Rows) -> Rows:
    booked = Booking.objects.filter(check_due=OuterRef("pk"), state=Booking.State.BOOKED)
    last = _last_call()
    return rows.select_related("plan", "job__vehicle").annotate(
        **_of_vehicle("job__vehicle"),
        booking_id=Subquery(booked.values("pk")[:1]),
        booked_for=Subquery(booked.values("starts_at")[:1]),
        last_result=Subquery(last.values("result")[:1]),
        last_note=Subquery(last.values("note")[:1]),
        last_at=Subquery(last.values("at")[:1]),
        again_at=Subquery(last.values("again_at")[:1]),
    )


def _last_call() -> "QuerySet[ContactAttempt]":
    return ContactAttempt.objects.filter(check_due=OuterRef("pk")).order_by("-at", "-pk")


def _of_vehicle(path: str) -> dict[str, Any]:
    """The present plate, and whom to call: the contact, else the holder."""
    vehicle = OuterRef(path)
    held = Holding.objects.filter(vehicle=vehicle, until__isnull=True, role__in=["contact", "holder"])
    person = held.order_by("role", "-since", "-pk")  # contact sorts before holder
    plate = Plate.objects.filter(vehicle=vehicle, until__isnull=True).order_by("-since", "-pk")
    return {
        "plate_now": Subquery(plate.values("text")[:1]),
        "person_name": Subquery(person.values("party__name")[:1]),
        "person_telephone": Subquery(person.values("party__telephone")[:1]),
    }


def waiting() -> Rows:
    """Checks nobody has settled, without the look at handover, which belongs to the handover."""
    return with_details(_not_settled())


def _not_settled() -> Rows:
    return Check.objects.filter(state=Check.State.DUE).exclude(plan__key=HANDOVER)


def without_a_time(rows: Rows) -> Rows:
    booked = Booking.objects.filter(check_due=OuterRef("pk"), state=Booking.State.BOOKED)
    looked_at_now = Visit.objects.filter(check_due=OuterRef("pk"), state=Visit.State.OPEN)
    return rows.filter(~Exists(booked), ~Exists(looked_at_now))


def to_call(today: date, now: datetime) -> Rows:
    """Due within three days or overdue, without a time, and not to be left alone until later.

    Who stayed away three times is no longer called about that check, nobody about the shop's own routine.
    """
    return with_details(_callable(today, now)).order_by("due_on", "pk")


def calls(today: date, now: datetime) -> int:
    """How many are to call."""
    return _callable(today, now).count()


def first_to_call(today: date, now: datetime, at_most: int) -> tuple[list[Check], int]:
    """The first of `to_call`, and how many there are: two queries, the conditions written out once."""
    keys = list(_callable(today, now).order_by("due_on", "pk").values_list("pk", flat=True))
    rows = with_details(Check.objects.filter(pk__in=keys[:at_most]))
    return list(rows.order_by("due_on", "pk")), len(keys)


def _callable(today: date, now: datetime) -> Rows:
    """Everything is asked of the one check: what the others are like would be read again for every page."""
    said = Subquery(CheckRules.objects.values("offers_at_most")[:1])
    again = Subquery(_last_call().values("again_at")[:1])
    rows = without_a_time(_not_settled().filter(due_on__lte=today + SOON, plan__offered_to_holder=True))
    left = rows.alias(
        again=Coalesce(again, Value(now)),
        away=_times_not_kept(),
        often=Greatest(Coalesce(said, STOP_AFTER), 1),
    )
    return left.filter(again__lte=now, away__lt=F("often"))


def _times_not_kept() -> Coalesce:
    rows = Booking.objects.filter(check_due=OuterRef("pk"), state=Booking.State.NOT_KEPT).order_by()
    return Coalesce(Subquery(rows.values("check_due").annotate(n=Count("pk")).values("n")), 0)


def need_a_time(today: date, until: date) -> Rows:
    """What still needs a place: due by that day and without one, or in its window already."""
    rows = waiting().filter(Q(due_on__lte=until) | Q(window_from__lte=today))
    return without_a_time(rows).order_by("due_on", "pk")


def overdue(today: date) -> Rows:
    """Past their day and not settled, whether booked or not."""
    return waiting().filter(due_on__lt=today).order_by("due_on", "pk")


def due_this_week(today: date) -> Rows:
    first = today - timedelta(days=today.weekday())
    return waiting().filter(due_on__gte=first, due_on__lt=first + timedelta(days=7)).order_by("due_on", "pk")


def in_state(state: str, newest_first: bool = True) -> Rows:
    rows = checks_with_details().filter(state=state)
    return rows.order_by("-settled_at", "-pk") if newest_first else rows.order_by("due_on", "pk")


def booked() -> Rows:
    standing = Booking.objects.filter(check_due=OuterRef("pk"), state=Booking.State.BOOKED)
    return waiting().filter(Exists(standing)).order_by("booked_for", "pk")


def wants_earlier() -> Rows:
    """In the order in which they asked."""
    open_states = (Check.State.DUE, Check.State.MISSED)
    rows = checks_with_details().filter(earlier_wanted=True, state__in=open_states)
    return rows.order_by("earlier_since", "pk")


def every_check() -> Rows:
    return checks_with_details().order_by("-due_on", "-pk")


def matching(rows: Rows, words: str) -> Rows:
    """By plate, VIN, name or the job's number."""
    wanted = words.strip()
    if not wanted:
        return rows
    plain = searched_form(wanted)
    vehicle = Q(job__vehicle__vin__icontains=wanted) | Q(job__ref__iexact=wanted)
    holders = Holding.objects.filter(until__isnull=True, party__name__icontains=wanted).values("vehicle")
    plates = Plate.objects.filter(searched__startswith=plain).values("vehicle") if plain else None
    named = Q(job__vehicle__in=holders) | (Q(job__vehicle__in=plates) if plates is not None else Q(pk=None))
    return rows.filter(vehicle | named)


def coming_in(shop: Shop, first: date, last: date | None = None) -> "QuerySet[Booking]":
    """Appointments of these days in the shop's zone, kept ones and those nobody kept included."""
    begins, ends = day_span(shop, first, last or first)
    states = [Booking.State.BOOKED, Booking.State.KEPT, Booking.State.NOT_KEPT]
    rows = Booking.objects.filter(starts_at__gte=begins, starts_at__lt=ends, state__in=states)
    seen = Visit.objects.filter(booking=OuterRef("pk")).order_by().values("booking")
    wrong = Coalesce(Subquery(seen.annotate(n=Count("findings", filter=_wrong("findings__"))).values("n")), 0)
    being_looked_at = Visit.objects.filter(booking=OuterRef("pk"), state=Visit.State.OPEN)
    return (
        rows.select_related("check_due__plan", "check_due__job__vehicle")
        .annotate(wrong=wrong, is_here=Exists(being_looked_at), **_of_vehicle("check_due__job__vehicle"))
        .order_by("starts_at", "lane")
    )


def walked_in(first: date, last: date | None = None) -> "QuerySet[Visit]":
    """Visits of these days that no booking announced."""
    rows = Visit.objects.filter(happened_on__gte=first, happened_on__lte=last or first, booking=None)
    rows = rows.exclude(state=Visit.State.DROPPED).exclude(is_handover_look=True)
    wrong = Count("findings", filter=_wrong("findings__"), distinct=True)
    annotated = rows.annotate(wrong=wrong, **_of_vehicle("job__vehicle"))
    return annotated.select_related("job__vehicle", "check_due__plan").order_by("happened_on", "started_at")


def _wrong(path: str) -> Q:
    return Q(**{f"{path}result": "defect", f"{path}corrected_at__isnull": True})


def free_places(
    shop: Shop, first: date, last: date | None = None, *, now: datetime, minutes: int | None = None
) -> list[FreePlace]:
    """Free places of these days, one after the other, for a check that takes that long."""
    opening = opening_of(shop, minutes)
    return list(packed(free_between(shop, opening, first, last or first, now=now)))


FILTERS: Final[dict[str, Callable[[date, datetime], Rows]]] = {
    "call": to_call,
    "overdue": lambda today, now: overdue(today),
    "week": lambda today, now: due_this_week(today),
    "booked": lambda today, now: booked(),
    "due": lambda today, now: waiting().order_by("due_on", "pk"),
    "done": lambda today, now: in_state(Check.State.DONE),
    "missed": lambda today, now: in_state(Check.State.MISSED),
    "aside": lambda today, now: in_state(Check.State.WAIVED),
    "all": lambda today, now: every_check(),
}
