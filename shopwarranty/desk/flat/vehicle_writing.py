"""Vehicles of a file as rows: new ones, what others learn, plates and holders since when."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from shopwarranty.jobs.models import Holding, Party, Plate, Vehicle
from shopwarranty.jobs.plates import searched_form
from shopwarranty.shops.history import Actor, record_change

from .holders import HolderSaid, PartyBook
from .tables import Tables
from .vehicles_here import MODEL_COLUMN, VehicleInBook

HOLDER: Final = Holding.Role.HOLDER.value


@dataclass(slots=True)
class VehicleWriter:
    parties: PartyBook
    tables: Tables
    actor: Actor
    now: datetime

    def write(self, vehicles: Iterable[VehicleInBook]) -> None:
        """Each once, in the order given."""
        for vehicle in {id(one): one for one in vehicles}.values():
            if not vehicle.pk:
                vehicle.pk = self.tables[Vehicle].add(*columns_of(vehicle).values())
            elif vehicle.learnt:
                self._learn(vehicle)
            vehicle.learnt.clear()
            self._write_plates(vehicle)
            self._write_holders(vehicle)

    def _learn(self, vehicle: VehicleInBook) -> None:
        columns = columns_of(vehicle)
        learnt = {MODEL_COLUMN[name]: columns[MODEL_COLUMN[name]] for name in sorted(vehicle.learnt)}
        Vehicle.objects.filter(pk=vehicle.pk).update(**learnt)
        row = Vehicle.objects.get(pk=vehicle.pk)
        record_change(row=row, act="learnt by import", actor=self.actor, at=self.now, after=learnt)

    def _write_plates(self, vehicle: VehicleInBook) -> None:
        for moved in vehicle.plates.moved_ends():
            Plate.objects.filter(pk=moved.pk).update(until=moved.until)
        for one in vehicle.plates.stretches:
            if not one.pk:
                searched = searched_form(one.item)
                one.pk = self.tables[Plate].add(vehicle.pk, one.item, searched, one.since, one.until)

    def _write_holders(self, vehicle: VehicleInBook) -> None:
        for moved in vehicle.holders.moved_ends():
            Holding.objects.filter(pk=moved.pk).update(until=moved.until)
        for one in vehicle.holders.stretches:
            if not one.pk:
                one.party = self._party(vehicle, one.item)
                one.pk = self.tables[Holding].add(vehicle.pk, one.party, HOLDER, one.since, one.until)

    def _party(self, vehicle: VehicleInBook, holder: HolderSaid) -> int:
        pk = self.parties.pk_of(holder, vehicle.holders)
        if not pk:
            pk = self.tables[Party].add(*holder)
            self.parties.remember(holder, pk)
        return pk


def columns_of(vehicle: VehicleInBook) -> dict[str, Any]:
    """Model columns in the order of the table."""
    known = {MODEL_COLUMN[name]: value for name, value in vehicle.known.items()}
    return {**known, "year": known["year"] or None}
