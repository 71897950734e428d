"""Holders, vehicles, plates."""

from datetime import date

from shopwarranty.jobs.models import Holding, Party, Plate, Vehicle
from shopwarranty.jobs.plates import searched_form

from ..told import Car, Holder, Story
from .rows import Written, add


def write_vehicles(written: Written, story: Story) -> None:
    written.parties = add(_party(holder) for holder in story.holders)
    written.vehicles = add(_vehicle(car) for car in story.cars)
    since = _first_seen(story)
    with_plate = [number for number, car in enumerate(story.cars) if car.owned != "panel"]
    add(
        Plate(
            vehicle=written.vehicles[number],
            text=story.cars[number].plate,
            searched=searched_form(story.cars[number].plate),
            since=since[number],
        )
        for number in with_plate
    )
    add(
        Holding(
            vehicle=written.vehicles[number],
            party=written.parties[car.holder],
            role=Holding.Role.HOLDER,
            since=since[number],
        )
        for number, car in enumerate(story.cars)
        if car.holder is not None
    )


def _party(holder: Holder) -> Party:
    return Party(
        kind=Party.Kind.FIRM if holder.is_firm else Party.Kind.PERSON,
        name=holder.name,
        email=holder.email,
        telephone=holder.telephone,
        address=holder.address,
        is_consumer=not holder.is_firm,
    )


def _vehicle(car: Car) -> Vehicle:
    loose = car.owned == "panel"
    return Vehicle(
        owned=car.owned,
        make="" if loose else car.make,
        model="test hood" if loose else car.model,
        year=None if loose else car.year,
        colour=car.color,
        body_style=car.body,
        use="" if loose else "road",
        vin="" if loose else car.vin,
        vin_kind=Vehicle.VinKind.NONE if loose else Vehicle.VinKind.VIN,
        vin_reason="loose panel" if loose else "",
    )


def _first_seen(story: Story) -> dict[int, date]:
    seen: dict[int, date] = {}
    for job in story.jobs:
        seen.setdefault(job.car, job.started_at.date())
    return seen
