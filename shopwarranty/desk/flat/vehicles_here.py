"""Vehicles of the shop as the flat files say them, with the plates and holders they had."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, Final

from shopwarranty.jobs.models import Plate, Vehicle

from .holders import HolderSaid, holders_of
from .timeline import Stretch, Timeline

MODEL_COLUMN: Final = {
    "vehicle_owned": "owned",
    "make": "make",
    "model": "model",
    "year": "year",
    "colour": "colour",
    "body_style": "body_style",
    "vehicle_use": "use",
    "vin": "vin",
    "vin_kind": "vin_kind",
    "vin_reason": "vin_reason",
}


@dataclass(slots=True, eq=False)
class VehicleInBook:
    """`known` by column; `learnt`: columns not written yet. `line`: where a file first named it, else 0."""

    known: dict[str, Any]
    pk: int = 0
    line: int = 0
    learnt: set[str] = field(default_factory=set)
    plates: Timeline[str] = field(default_factory=Timeline)
    holders: Timeline[HolderSaid] = field(default_factory=Timeline)


@dataclass(slots=True)
class VehiclesHere:
    """Vehicles by row; one that was merged into another is that other."""

    by_pk: dict[int, VehicleInBook] = field(default_factory=dict)
    moved: dict[int, int] = field(default_factory=dict)

    def of(self, pk: int) -> VehicleInBook:
        return self.by_pk[self.final(pk)]

    def final(self, pk: int) -> int:
        while pk in self.moved:
            pk = self.moved[pk]
        return pk

    def load(self, pks: Iterable[int]) -> list[VehicleInBook]:
        """Reads those not read yet; gives them. Three queries, more only where vehicles were merged."""
        fresh: list[VehicleInBook] = []
        wanted = set(pks)
        while wanted := wanted - self.by_pk.keys() - self.moved.keys():
            rows = list(Vehicle.objects.filter(pk__in=wanted).order_by("pk"))
            self.moved.update({row.pk: row.merged_into_id for row in rows if row.merged_into_id})
            fresh += self._enter([row for row in rows if not row.merged_into_id])
            wanted = {row.merged_into_id for row in rows if row.merged_into_id}
        return fresh

    def _enter(self, rows: list[Vehicle]) -> list[VehicleInBook]:
        fresh = {row.pk: VehicleInBook(known_of(row), row.pk) for row in rows}
        self.by_pk.update(fresh)
        for plate in Plate.objects.filter(vehicle__in=fresh).order_by("since", "pk"):
            stretch = Stretch(plate.since, plate_form(plate.text), plate.pk, plate.until)
            fresh[plate.vehicle_id].plates.stretches.append(stretch)
        for vehicle_id, held in holders_of(fresh):
            fresh[vehicle_id].holders.stretches.append(held)
        return list(fresh.values())


def known_of(row: Vehicle) -> dict[str, Any]:
    """As a row of the file would say it."""
    known = {name: getattr(row, column) for name, column in MODEL_COLUMN.items()}
    known = {name: value.strip() if isinstance(value, str) else value for name, value in known.items()}
    return {**known, "vin": vin_form(known["vin"])}


def vin_form(text: str) -> str:
    return " ".join(text.split()).upper()


def plate_form(text: str) -> str:
    return " ".join(text.split()).upper()
