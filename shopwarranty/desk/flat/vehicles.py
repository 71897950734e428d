"""Which vehicle a job is on, which plate it carried at that time, and who held it.

A job's vehicle is, in this order: that of the job it names as the first on the same vehicle; the one with the
same VIN; a new one, when it names itself as the first; without a VIN the one with the same chassis number or
plate that nothing in the row contradicts; else a new one. What the row leaves empty is taken from the vehicle,
what the vehicle does not know yet it learns, what is different is a fault.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Final

from django.utils.translation import gettext as _

from shopwarranty.jobs.models import Job, Plate, Vehicle
from shopwarranty.jobs.plates import searched_form

from .holders import HolderSaid, holders_of
from .reading import Sheet
from .records import FlatJob, JobValues
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
BLANK: Final = (None, "")
TO_READ: Final = "to_read"


@dataclass(slots=True, eq=False)
class VehicleInBook:
    """`known` by column; `learnt`: columns not written yet. `line`: where a file first named it, 0: it is here."""

    known: dict[str, Any]
    pk: int = 0
    line: int = 0
    learnt: set[str] = field(default_factory=set)
    plates: Timeline[str] = field(default_factory=Timeline)
    holders: Timeline[HolderSaid] = field(default_factory=Timeline)


class VehicleBook:
    """The vehicles that the jobs of these files are on. Five queries for each chunk of jobs."""

    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet
        self.of_job: dict[str, VehicleInBook] = {}
        self.by_vin: dict[str, VehicleInBook] = {}
        self.by_chassis: dict[str, list[VehicleInBook]] = {}
        self.by_plate: dict[str, list[VehicleInBook]] = {}
        self.by_pk: dict[int, VehicleInBook] = {}

    def prepare(self, jobs: Iterable[FlatJob], here: Iterable[str]) -> None:
        """Reads the vehicles here that these jobs may be on; `here`: refs of jobs that are here already."""
        values = [job.values for job in jobs]
        firsts = ({one.vehicle_first_job for one in values} | set(here)) - self.of_job.keys() - {""}
        by_ref = dict(Job.objects.filter(ref__in=firsts).values_list("ref", "vehicle_id"))
        vins = {one.vin for one in values if one.vin} - self.by_vin.keys()
        plates = {searched_form(one.plate) for one in values if one.plate and not one.vin}
        carrying = Plate.objects.filter(searched__in=plates).values_list("vehicle_id", flat=True)
        known = Vehicle.objects.filter(vin__in=vins, merged_into__isnull=True).values_list("pk", flat=True)
        moved = self._load({*by_ref.values(), *carrying, *known})
        for ref, pk in by_ref.items():
            self.of_job[ref] = self.by_pk[moved.get(pk, pk)]

    def _load(self, pks: set[int]) -> dict[int, int]:
        """Returns which of them were merged into which."""
        moved: dict[int, int] = {}
        wanted = pks - self.by_pk.keys()
        while wanted:
            rows = list(Vehicle.objects.filter(pk__in=wanted).order_by("pk"))
            into = {row.pk: row.merged_into_id for row in rows if row.merged_into_id}
            moved.update(into)
            self._enter([row for row in rows if row.pk not in into])
            wanted = set(into.values()) - self.by_pk.keys()
        return {pk: _last(pk, moved) for pk in moved}

    def _enter(self, rows: list[Vehicle]) -> None:
        fresh = {row.pk: VehicleInBook(known_of(row), row.pk) for row in rows}
        self.by_pk.update(fresh)
        for plate in Plate.objects.filter(vehicle__in=fresh).order_by("since", "pk"):
            stretch = Stretch(plate.since, plate_form(plate.text), plate.pk, plate.until)
            fresh[plate.vehicle_id].plates.stretches.append(stretch)
        for vehicle_id, held in holders_of(fresh):
            fresh[vehicle_id].holders.stretches.append(held)
        for vehicle in fresh.values():
            self._index(vehicle)

    def _index(self, vehicle: VehicleInBook) -> None:
        vin = vehicle.known["vin"]
        if vin and vehicle.known["vin_kind"] == "vin":
            self.by_vin[vin] = vehicle
        elif vin:
            self.by_chassis.setdefault(vin, []).append(vehicle)
        for stretch in vehicle.plates.stretches:
            self._index_plate(stretch.item, vehicle)

    def _index_plate(self, plate: str, vehicle: VehicleInBook) -> None:
        carrying = self.by_plate.setdefault(searched_form(plate), [])
        if vehicle not in carrying:
            carrying.append(vehicle)

    def place(self, job: FlatJob, day: date) -> VehicleInBook | None:
        """The vehicle of a job that is new here; its row is completed from it. None after a fault."""
        values = job.values
        first = values.vehicle_first_job
        if first and first != job.ref and first not in self.of_job:
            problem = _("There is no such job before this one.")
            self._say(
                job, "vehicle_first_job", first, problem, _("Put that job first, or leave the cell empty.")
            )
            return None
        vehicle = self._match(job) or VehicleInBook(dict.fromkeys(MODEL_COLUMN, ""), line=job.line)
        self.of_job[job.ref] = vehicle
        self._learn(job, vehicle)
        self._index(vehicle)
        if values.plate:
            vehicle.plates.put(values.plate, day, values.plate_since)
            self._index_plate(values.plate, vehicle)
        job.values = completed(job.values, vehicle, day)
        return vehicle

    def _match(self, job: FlatJob) -> VehicleInBook | None:
        values = job.values
        if values.vehicle_first_job not in ("", job.ref):
            return self.of_job[values.vehicle_first_job]
        if values.vin and values.vin_kind == "vin":
            return self.by_vin.get(values.vin)
        if values.vehicle_first_job:
            return None
        if values.vin:
            return self._fitting(self.by_chassis.get(values.vin, []), values)
        return (
            self._fitting(self.by_plate.get(searched_form(values.plate), []), values)
            if values.plate
            else None
        )

    def _fitting(self, vehicles: list[VehicleInBook], values: JobValues) -> VehicleInBook | None:
        return next((one for one in vehicles if not list(_contradictions(values, one))), None)

    def _learn(self, job: FlatJob, vehicle: VehicleInBook) -> None:
        for name in _contradictions(job.values, vehicle):
            said, known = getattr(job.values, name), vehicle.known[name]
            where = _("on line %(line)d") % {"line": vehicle.line} if vehicle.line else _("here")
            problem = _("but the same vehicle is said to be %(known)s %(where)s.")
            words = problem % {"known": known, "where": where}
            self._say(job, name, said, words, _("Write the same, or leave it empty."))
        for name in MODEL_COLUMN:
            said = getattr(job.values, name)
            if said not in BLANK and vehicle.known[name] in (*BLANK, TO_READ) and said != vehicle.known[name]:
                vehicle.known[name] = said
                vehicle.learnt.add(name)

    def _say(self, job: FlatJob, name: str, value: object, problem: str, remedy: str) -> None:
        self.sheet.say(job.line, "job", name, value, problem, remedy)


def _contradictions(values: JobValues, vehicle: VehicleInBook) -> Iterable[str]:
    for name in MODEL_COLUMN:
        said, known = getattr(values, name), vehicle.known[name]
        if said not in BLANK and known not in (*BLANK, TO_READ) and said != known:
            yield name


def completed(values: JobValues, vehicle: VehicleInBook, day: date) -> JobValues:
    """What the row left empty about the vehicle, as the vehicle is known."""
    known = {
        name: value
        for name, value in vehicle.known.items()
        if getattr(values, name) in BLANK and value not in BLANK
    }
    plate = values.plate or vehicle.plates.at(day) or ""
    return values._replace(**known, plate=plate)


def known_of(row: Vehicle) -> dict[str, Any]:
    """As a row of the file would say it."""
    known = {name: getattr(row, column) for name, column in MODEL_COLUMN.items()}
    known = {name: value.strip() if isinstance(value, str) else value for name, value in known.items()}
    return {**known, "vin": vin_form(known["vin"])}


def vin_form(text: str) -> str:
    return " ".join(text.split()).upper()


def plate_form(text: str) -> str:
    return " ".join(text.split()).upper()


def _last(pk: int, moved: dict[int, int]) -> int:
    while pk in moved:
        pk = moved[pk]
    return pk
