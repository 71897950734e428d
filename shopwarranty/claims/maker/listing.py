"""Claims to film makers as a desk looks for them, what may be claimed, and what is due."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, Final

from django.db.models import Count, Exists, F, OuterRef, Q, QuerySet, Sum
from django.db.models.functions import Coalesce
from django.utils.translation import gettext_lazy as _

from shopwarranty.defects.models import Defect
from shopwarranty.films.models import FilmProduct, Lot

from ..models import MakerClaim, MakerClaimPiece
from .stages import OPEN, SOON

State = MakerClaim.State
SHOWN: Final = (("", _("Open")), *((value, label) for value, label in State.choices), ("all", _("All")))
CHIPS: Final = {
    State.DRAFT: "due",
    State.SENT: "booked",
    State.ANSWERED: "booked",
    State.CREDITED: "done",
    State.REFUSED: "withdrawn",
    State.DROPPED: "withdrawn",
}
AT_MOST: Final = 200


@dataclass(frozen=True, slots=True)
class Standing:
    """Over all claims: `outstanding` is what was asked and not answered with money yet, where known."""

    open: int
    overdue: int
    to_send: int
    outstanding: Decimal | None
    unknown: int


def claims(shown: str) -> QuerySet[MakerClaim]:
    rows = MakerClaim.objects.select_related("product", "lot").annotate(defects=Count("pieces"))
    rows = rows.order_by(F("answer_due_on").asc(nulls_last=True), F("file_by").asc(nulls_last=True), "-pk")
    if shown in State.values:
        return rows.filter(state=shown)
    return rows if shown == "all" else rows.filter(state__in=OPEN)


def late(today: date) -> Q:
    """An answer that did not come, or a day to claim by that has passed."""
    return Q(state=State.SENT, answer_due_on__lt=today) | Q(state=State.DRAFT, file_by__lt=today)


def to_send_soon(today: date) -> Q:
    return Q(state=State.DRAFT, file_by__gte=today, file_by__lte=today + SOON)


def standing(today: date) -> Standing:
    """One query."""
    waiting = Q(state__in=(State.SENT, State.ANSWERED))
    counts: dict[str, Any] = MakerClaim.objects.aggregate(
        open=Count("pk", filter=Q(state__in=OPEN)),
        overdue=Count("pk", filter=late(today)),
        to_send=Count("pk", filter=to_send_soon(today)),
        outstanding=Sum("asked", filter=waiting),
        unknown=Count("pk", filter=waiting & Q(asked__isnull=True)),
    )
    return Standing(**counts)


def with_chips(rows: Any, today: date) -> Any:
    """Sets `chip`, `is_late` and `by` (the day that counts at its stage) on each row."""
    for row in rows:
        row.by = {State.DRAFT: row.file_by, State.SENT: row.answer_due_on}.get(row.state)
        row.is_late = row.by is not None and row.by < today
        row.chip = "overdue" if row.is_late else CHIPS[State(row.state)]
    return rows


def claimable(product: FilmProduct, lot: Lot | None, but: MakerClaim | None = None) -> QuerySet[Defect]:
    """Defects on film of that lot that stand in no other claim still open or credited; newest first."""
    elsewhere = MakerClaimPiece.objects.filter(
        defect=OuterRef("pk"), maker_claim__state__in=(*OPEN, State.CREDITED)
    )
    if but is not None:
        elsewhere = elsewhere.exclude(maker_claim=but)
    rows = Defect.objects.filter(place__piece__product=product, place__piece__lot=lot)
    rows = rows.filter(~Exists(elsewhere)).select_related("place__piece__panel_work__job__vehicle")
    return rows.order_by("-found_on", "-pk")


def lots_with_defects() -> QuerySet[Lot]:
    """The lots with most defects on record first."""
    rows = Lot.objects.select_related("product")
    rows = rows.annotate(found=Coalesce(Count("pieces__places__defects", distinct=True), 0))
    return rows.filter(Q(found__gt=0) | Q(quarantined_at__isnull=False)).order_by("-found", "-pk")
