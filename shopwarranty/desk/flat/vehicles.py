"""Which vehicle a job is on, which plate it carried at that time, and who held it.

A job's vehicle is, in this order: that of the job it names as the first on the same vehicle; the one with the
same VIN; a new one, when it names itself as the first; without a VIN the one with the same chassis number or
plate that nothing in the row contradicts; else a new one. What the row leaves empty is taken from the
vehicle, what the vehicle does not know yet it learns, what is different is a fault.
"""

from collections.abc import Iterable
from datetime import date
from typing import Final

from django.utils.translation import gettext as _

from shopwarranty.jobs.models import Job, Plate, Vehicle
from shopwarranty.jobs.plates import searched_form

from .holders import fits, put_holder, with_holder
from .reading import Sheet
from .records import FlatJob, JobValues
from .vehicles_here import MODEL_COLUMN, VehicleInBook, VehiclesHere

BLANK: Final = (None, "")
TO_READ: Final = "to_read"


class VehicleBook:
    """The vehicles that the jobs of these files are on. Five queries for each chunk of jobs."""

    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet
        self.here = VehiclesHere()
        self.of_job: dict[str, VehicleInBook] = {}
        self.by_vin: dict[str, VehicleInBook] = {}
        self.by_chassis: dict[str, list[VehicleInBook]] = {}
        self.by_plate: dict[str, list[VehicleInBook]] = {}

    def prepare(self, jobs: Iterable[FlatJob], here: Iterable[str]) -> None:
        """Reads the vehicles here that these jobs may be on; `here`: refs of jobs that are here already."""
        values = [job.values for job in jobs]
        firsts = ({one.vehicle_first_job for one in values} | set(here)) - self.of_job.keys() - {""}
        by_ref = dict(Job.objects.filter(ref__in=firsts).values_list("ref", "vehicle_id"))
        vins = {one.vin for one in values if one.vin} - self.by_vin.keys()
        plates = {searched_form(one.plate) for one in values if one.plate and not one.vin}
        carrying = Plate.objects.filter(searched__in=plates).values_list("vehicle_id", flat=True)
        known = Vehicle.objects.filter(vin__in=vins, merged_into__isnull=True).values_list("pk", flat=True)
        for vehicle in self.here.load({*by_ref.values(), *carrying, *known}):
            self._index(vehicle)
        for ref, pk in by_ref.items():
            self.of_job[ref] = self.here.of(pk)

    def _index(self, vehicle: VehicleInBook) -> None:
        vin = vehicle.known["vin"]
        if vin and vehicle.known["vin_kind"] == "vin":
            self.by_vin[vin] = vehicle
        elif vin and vehicle not in self.by_chassis.setdefault(vin, []):
            self.by_chassis[vin].append(vehicle)
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
        _assume(vehicle)
        self._index(vehicle)
        if values.plate:
            if values.plate_since or not _same_plate(vehicle.plates.at(day), values.plate):
                vehicle.plates.put(values.plate, day, values.plate_since)
            self._index_plate(values.plate, vehicle)
        job.values = put_holder(vehicle.holders, completed(job.values, vehicle, day), day)
        return vehicle

    def recall(self, job: FlatJob, day: date) -> None:
        """Completes the row of a job that is here already from its own vehicle; nothing is learnt."""
        vehicle = self.of_job[job.ref]
        job.values = completed(job.values, vehicle, day)
        meant = vehicle.holders.at(day)
        if meant and fits(job.values, meant):
            job.values = with_holder(job.values, meant)

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


def _assume(vehicle: VehicleInBook) -> None:
    """What an empty cell means of a vehicle of which nothing else is known."""
    known = vehicle.known
    known["vehicle_owned"] = known["vehicle_owned"] or "customer"
    known["vin_kind"] = known["vin_kind"] or ("none" if known["vehicle_owned"] == "panel" else TO_READ)


def completed(values: JobValues, vehicle: VehicleInBook, day: date) -> JobValues:
    """What the row left empty about the vehicle, as the vehicle is known."""
    known = {
        name: value
        for name, value in vehicle.known.items()
        if getattr(values, name) in BLANK and value not in BLANK
    }
    plate = vehicle.plates.at(day)
    if plate and (not values.plate or _same_plate(plate, values.plate)):
        known["plate"] = plate
    return values._replace(**known)


def _same_plate(one: str | None, other: str) -> bool:
    """However it is spaced."""
    return one is not None and searched_form(one) == searched_form(other)
