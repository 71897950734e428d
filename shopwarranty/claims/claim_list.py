"""Claims as a desk looks for them: by stage, what is overdue, plate, VIN, name, number."""

from datetime import date
from typing import Any, Final

from django.db.models import F, OuterRef, Q, QuerySet, Subquery
from django.utils.translation import gettext_lazy as _

from shopwarranty.jobs.models import Plate
from shopwarranty.jobs.plates import searched_form

from .models import Claim, ClaimedDefect
from .stages import OPEN

State = Claim.State
SHOWN: Final = (
    ("", _("Open")),
    ("overdue", _("Overdue")),
    *((value, label) for value, label in State.choices),
    ("all", _("All")),
)
SORTED: Final[dict[str, tuple[Any, ...]]] = {
    "due": (F("due_on").asc(nulls_last=True), "pk"),
    "newest": ("-received_at", "-pk"),
    "oldest": ("received_at", "pk"),
}
SORTS: Final = (("due", _("Due first")), ("newest", _("Newest first")), ("oldest", _("Oldest first")))
CHIPS: Final = {
    State.RECEIVED: "due",
    State.ACKNOWLEDGED: "booked",
    State.IN_ASSESSMENT: "booked",
    State.DECIDED: "booked",
    State.TOLD: "booked",
    State.REMEDIED: "done",
    State.CLOSED: "done",
    State.REOPENED: "due",
}


def claims(*, words: str, shown: str, sort: str, today: date) -> "QuerySet[Claim]":
    first = ClaimedDefect.objects.filter(claim=OuterRef("pk")).order_by("pk")
    plate = Plate.objects.filter(vehicle=OuterRef("vehicle"), until__isnull=True).order_by("-since", "-pk")
    rows = Claim.objects.select_related("vehicle", "claimant").annotate(
        said=Subquery(first.values("words")[:1]), plate_now=Subquery(plate.values("text")[:1])
    )
    rows = rows.filter(state_filter(shown, today)).filter(word_filter(words.strip()))
    return rows.order_by(*SORTED.get(sort, SORTED["due"]))


def state_filter(shown: str, today: date) -> Q:
    if shown == "overdue":
        return Q(state__in=OPEN, due_on__lt=today)
    if shown in State.values:
        return Q(state=shown)
    return Q() if shown == "all" else Q(state__in=OPEN)


def word_filter(words: str) -> Q:
    if not words:
        return Q()
    named = Q(number__icontains=words) | Q(claimant__name__icontains=words)
    compact = searched_form(words)
    if not compact:
        return named
    plates = Plate.objects.filter(searched__startswith=compact).values("vehicle")
    return (
        named
        | Q(vehicle__in=plates)
        | Q(vehicle__vin__startswith=compact)
        | Q(vehicle__vin__endswith=compact)
    )


def with_chips(rows: Any, today: date) -> Any:
    """Sets `chip` and `is_overdue` on each row."""
    for row in rows:
        row.is_overdue = row.due_on is not None and row.due_on < today
        row.chip = "overdue" if row.is_overdue else CHIPS[State(row.state)]
    return rows
