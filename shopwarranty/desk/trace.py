"""From a lot to every vehicle and piece, and back; unknown lots show as possibly affected."""

from dataclasses import dataclass
from typing import Any

from django.db.models import Count, OuterRef, Q, Subquery

from shopwarranty.films.models import Lot
from shopwarranty.jobs.models import FilmPiece, Holding, Plate


@dataclass(frozen=True, slots=True)
class LotUse:
    vehicles: int
    pieces: int
    unknown_pieces: int


def pieces_of_lot(lot: Lot) -> Any:
    """Film pieces surely of this lot, newest job first, ready for a list: vehicle, plate, holder, roll."""
    return ready_to_list(FilmPiece.objects.filter(lot=lot))


def possibly_of_lot(lot: Lot) -> Any:
    """Pieces of the same film whose lot nobody knows or wrote down: they may be of this lot."""
    rows = FilmPiece.objects.filter(lot__isnull=True)
    return ready_to_list(rows.filter(Q(product=lot.product) | Q(product__isnull=True)))


def ready_to_list(pieces: Any) -> Any:
    vehicle = OuterRef("panel_work__job__vehicle")
    plate = Plate.objects.filter(vehicle=vehicle, until__isnull=True).order_by("-since", "-pk")
    holder = Holding.objects.filter(vehicle=vehicle, until__isnull=True, role="holder").order_by(
        "-since", "-pk"
    )
    return (
        pieces.select_related("panel_work__job__vehicle", "roll", "product")
        .annotate(
            plate_now=Subquery(plate.values("text")[:1]),
            holder_now=Subquery(holder.values("party__name")[:1]),
            holder_telephone=Subquery(holder.values("party__telephone")[:1]),
        )
        .order_by("-panel_work__job__started_at", "panel_work__walk", "pk")
    )


def use_of_lot(lot: Lot) -> LotUse:
    sure = FilmPiece.objects.filter(lot=lot).aggregate(
        pieces=Count("pk"), vehicles=Count("panel_work__job__vehicle", distinct=True)
    )
    return LotUse(sure["vehicles"], sure["pieces"], possibly_of_lot(lot).count())
