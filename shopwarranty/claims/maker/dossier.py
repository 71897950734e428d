"""What a film maker is shown of each defect: film, storage, laying, readings, certificate, photos.

No more about people than a maker needs: neither holder nor plate, neither who laid it nor who found it; the
vehicle by make, model and year, its VIN only where the shop chose so.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Count

from shopwarranty.defects import defect_page
from shopwarranty.defects.models import Defect
from shopwarranty.films.models import Roll
from shopwarranty.jobs.models import FilmPiece, Photo, Vehicle
from shopwarranty.jobs.record_parts import ReadingRecord
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.warranty.models import Certificate
from shopwarranty.web.trade_names import first_upper

from ..models import MakerClaim, MakerClaimPiece
from ..places import place_words

MOST_PHOTOS = 4
PATH = "panel_work__job__vehicle"


@dataclass(frozen=True, slots=True)
class ItemFile:
    """One defect, or a piece with nothing seen on it. `laid_on` None: when is not recorded."""

    piece: FilmPiece
    defect: Defect | None
    where: str
    vehicle: str
    vin: str
    job: str
    laid_on: date | None
    reading: ReadingRecord | None
    seen: tuple[defect_page.Seen, ...]
    certificate: Certificate | None
    photos: tuple[Photo, ...]


@dataclass(frozen=True, slots=True)
class ItemLine:
    """One thing claimed, as the page lists it."""

    where: str
    vehicle: str
    piece: FilmPiece
    defect: Defect | None
    photos: int


@dataclass(frozen=True, slots=True)
class Lines:
    """What a claim is about, in a fixed number of queries, and what its PDF will lack."""

    items: tuple[ItemLine, ...]
    rolls: tuple[Roll, ...]

    @property
    def lacks_photos(self) -> bool:
        return not any(item.photos for item in self.items)

    @property
    def lacks_roll(self) -> bool:
        return not self.rolls or any(item.piece.roll_id is None for item in self.items)

    @property
    def lacks_storage(self) -> bool:
        return lacks_storage(self.rolls)


def lacks_storage(rolls: tuple[Roll, ...]) -> bool:
    """Where and from when to when the film was kept is not recorded for all of them."""
    return any(roll.received_on is None or roll.opened_on is None or not roll.stored_where for roll in rolls)


@dataclass(frozen=True, slots=True)
class Dossier:
    claim: MakerClaim
    items: tuple[ItemFile, ...]
    rolls: tuple[Roll, ...]

    @property
    def photos(self) -> tuple[Photo, ...]:
        return tuple(photo for item in self.items for photo in item.photos)


def lines_of(claim: MakerClaim) -> Lines:
    catalogue = ShopCatalogue(claim.shop)
    rows = claim.pieces.select_related(f"piece__{PATH}", "piece__roll", f"defect__place__piece__{PATH}")
    rows = rows.annotate(photos=Count("defect__photos", distinct=True)).order_by("pk")
    items = tuple(
        ItemLine(
            where_of(row, catalogue),
            vehicle_words(row.piece.panel_work.job.vehicle),
            row.piece,
            row.defect,
            row.photos,
        )
        for row in rows
    )
    return Lines(items, rolls_of(claim, [item.piece for item in items]))


def where_of(row: MakerClaimPiece, catalogue: ShopCatalogue) -> str:
    work = row.piece.panel_work
    if row.defect:
        return place_words(row.defect.place, catalogue)
    return first_upper(catalogue.panel_name(work.job.vehicle.body_style, work.panel))


def vehicle_words(vehicle: Vehicle) -> str:
    return " ".join(str(part) for part in (vehicle.make, vehicle.model, vehicle.year) if part)


def dossier_of(claim: MakerClaim) -> Dossier:
    catalogue = ShopCatalogue(claim.shop)
    rows = claim.pieces.select_related(
        f"piece__{PATH}", "piece__roll", f"defect__place__piece__{PATH}"
    ).order_by("pk")
    items = tuple(item_of(row, claim, catalogue) for row in rows)
    return Dossier(claim, items, rolls_of(claim, [item.piece for item in items]))


def item_of(row: MakerClaimPiece, claim: MakerClaim, catalogue: ShopCatalogue) -> ItemFile:
    piece, defect = row.piece, row.defect
    work = piece.panel_work
    job, vehicle = work.job, work.job.vehicle
    place = defect.place if defect else None
    record = defect_page.load_place_record(place, claim.shop, catalogue) if place else None
    return ItemFile(
        piece=piece,
        defect=defect,
        where=where_of(row, catalogue),
        vehicle=vehicle_words(vehicle),
        vin=vehicle.vin if claim.with_vin else "",
        job=job.ref,
        laid_on=work.finished_at.astimezone(claim.shop.zone).date() if work.finished_at else None,
        reading=record.panel.reading if record and record.panel else None,
        seen=tuple(defect_page.seen_lines(defect, claim.shop)) if defect else (),
        certificate=Certificate.objects.filter(job=job, state=Certificate.State.ISSUED).first(),
        photos=tuple(photos_of(defect)) if defect else (),
    )


def photos_of(defect: Defect) -> list[Photo]:
    """Of the defect and its place; where a marked copy was made, the copy and not the original."""
    rows = Photo.objects.filter(set_aside_at__isnull=True).exclude(stage=Photo.Stage.INTAKE)
    own = rows.filter(pk__in=defect.photos.values("photo")) | rows.filter(place=defect.place)
    found = list(own.distinct().order_by("added_at", "pk"))
    copies = list(rows.filter(marked_from__in=[photo.pk for photo in found]).order_by("added_at", "pk"))
    replaced = {copy.marked_from_id for copy in copies}
    kept = [photo for photo in found if photo.pk not in replaced and photo not in copies]
    return [*kept, *latest_copies(copies)][-MOST_PHOTOS:]


def latest_copies(copies: Iterable[Photo]) -> list[Photo]:
    latest = {copy.marked_from_id: copy for copy in copies}
    return list(latest.values())


def rolls_of(claim: MakerClaim, pieces: Iterable[FilmPiece]) -> tuple[Roll, ...]:
    """Those the film came off; of a lot nobody has laid, all its rolls."""
    used = {piece.roll.pk: piece.roll for piece in pieces if piece.roll}
    if used or claim.lot is None:
        return tuple(used[pk] for pk in sorted(used))
    return tuple(claim.lot.rolls.order_by("pk"))
