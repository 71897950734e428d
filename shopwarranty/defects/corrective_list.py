"""Corrective actions and what waits for one: the list a shop goes through once a month."""

from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from django.db.models import Count, Exists, OuterRef, Q, QuerySet
from django.utils.translation import gettext_lazy as _

from .models import ActionDefect, CorrectiveAction, Defect, Life

State = CorrectiveAction.State
OPEN: Final = (State.SET, State.IN_USE, State.CHECKED)
SHOWN: Final = (("", _("Open")), *State.choices, ("all", _("All")))
CHIPS: Final = {
    State.SET: "due",
    State.IN_USE: "booked",
    State.CHECKED: "done",
    State.CLOSED: "done",
    State.DROPPED: "plain",
}


@dataclass(frozen=True, slots=True)
class Counted:
    """Lives that began before and since the day, and how many were found failed. Counts, no verdict."""

    failed_before: int
    watched_before: int
    failed_since: int
    watched_since: int


def actions_shown(shown: str) -> "QuerySet[CorrectiveAction]":
    rows = CorrectiveAction.objects.select_related("owner").annotate(because=Count("defects")).order_by("-pk")
    if shown in State.values:
        return rows.filter(state=shown)
    return rows if shown == "all" else rows.filter(state__in=OPEN)


def with_chips(rows: Any, today: date) -> Any:
    for row in rows:
        late = row.state in OPEN and row.due_on is not None and row.due_on < today
        row.chip = "overdue" if late else CHIPS[State(row.state)]
    return rows


def unanswered() -> "QuerySet[Defect]":
    """Defects of the work that nobody judged and no action answers to: newest first."""
    answered = ActionDefect.objects.filter(defect=OuterRef("pk"))
    rows = Defect.objects.filter(~Exists(answered)).exclude(state=Defect.State.NOT_REPRODUCED)
    return rows.filter(cause="", at_handover=False).order_by("-found_on", "-pk")


def counted(action: CorrectiveAction) -> Counted | None:
    """As the planned checks saw it, among all places that were looked at. None until it is in use."""
    day = action.effective_from
    if day is None:
        return None
    watched = Q(clean_day__isnull=False) | Q(failed_day__isnull=False)
    failed = Q(failed_day__isnull=False)
    found: dict[str, int] = Life.objects.aggregate(
        failed_before=Count("pk", filter=failed & Q(starts_on__lt=day)),
        watched_before=Count("pk", filter=watched & Q(starts_on__lt=day)),
        failed_since=Count("pk", filter=failed & Q(starts_on__gte=day)),
        watched_since=Count("pk", filter=watched & Q(starts_on__gte=day)),
    )
    return Counted(**found)
