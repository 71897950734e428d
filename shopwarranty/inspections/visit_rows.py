"""A visit as a line: when, why it came, what it saw. Clean, wrong and not looked at stay three numbers."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Count, Q, QuerySet
from django.utils.translation import gettext as _

from .actions.plans import window_of
from .due_dates import Timeliness, timeliness
from .models import Finding, Visit


@dataclass(frozen=True, slots=True)
class Tally:
    clean: int
    wrong: int
    unseen: int

    @property
    def looked_at(self) -> int:
        return self.clean + self.wrong

    @property
    def all(self) -> int:
        return self.clean + self.wrong + self.unseen


@dataclass(frozen=True, slots=True)
class VisitLine:
    pk: int
    on: date
    origin: str
    timeliness: str
    is_open: bool
    by_photo: bool
    by: str
    tally: Tally


def visit_lines(visits: "QuerySet[Visit]") -> list[VisitLine]:
    """One query, newest first."""

    def number(result: str) -> Count:
        wanted = Q(findings__result=result, findings__corrected_at__isnull=True)
        return Count("findings", filter=wanted)

    rows = visits.select_related("member", "check_due").annotate(
        n_clean=number(Finding.Result.CLEAN),
        n_wrong=number(Finding.Result.DEFECT),
        n_unseen=number(Finding.Result.NOT_LOOKED),
    )
    return [_line(row) for row in rows.order_by("-happened_on", "-pk")]


def _line(row: Any) -> VisitLine:
    return VisitLine(
        row.pk,
        row.happened_on,
        origin_words(row),
        timeliness_words(row),
        row.state == Visit.State.OPEN,
        row.by_photo,
        str(row.member or ""),
        Tally(row.n_clean, row.n_wrong, row.n_unseen),
    )


def origin_words(visit: Visit) -> str:
    if visit.is_handover_look:
        return _("Handover look")
    return str(visit.get_origin_display())


def timeliness_words(visit: Visit) -> str:
    """Early, in its window or late; nothing for a visit that belongs to no check."""
    if visit.check_due is None:
        return ""
    words = {
        Timeliness.EARLY: _("early"),
        Timeliness.IN_WINDOW: _("in its window"),
        Timeliness.LATE: _("late"),
    }
    return words[timeliness(window_of(visit.check_due), visit.happened_on)]
