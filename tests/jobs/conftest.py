"""A vehicle with a job of the usual full front, as most tests need it."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest

from shopwarranty.films.models import FilmProduct, Lot, Roll
from shopwarranty.jobs import actions
from shopwarranty.jobs.models import Job, MethodVersion, PanelWork, Place, Vehicle
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.shops.history import Actor
from shopwarranty.trade.catalogue import USUAL_FRONT
from tests.conftest import NOW, ShopPeople

METHOD = {
    "job": {"decontaminated": True, "dwell_h": 12.0},
    "panel": {"washed": True, "solvent_wiped": True, "laid": "wet"},
    "edge": {"post_heated": True, "passes": 2, "wrap_in_wanted_mm": 8.0},
    "recess": {"post_heated": True, "passes": 2},
    "panels": {"front-door": {"places": {"handle": {"passes": 3}}}},
}
VIN = "0DEMXWRA1TF000123"


@dataclass(frozen=True, slots=True)
class Bench:
    """What a job is made of; `front` opens one with the usual full front started."""

    people: ShopPeople
    actor: Actor
    vehicle: Vehicle
    method: MethodVersion
    roll: Roll
    catalogue: ShopCatalogue

    def job(self, **more: Any) -> Job:
        values = {"vehicle": self.vehicle, "method_version": self.method, "actor": self.actor, "now": NOW}
        return actions.open_job(**{**values, **more})

    def front(self, panels: tuple[str, ...] = USUAL_FRONT, **more: Any) -> Job:
        job = self.job(**more)
        film = actions.FilmChoice(roll=self.roll)
        actions.start_panels(
            job=job, panels=panels, catalogue=self.catalogue, film=film, actor=self.actor, now=NOW
        )
        return job


@pytest.fixture
def bench(ours: ShopPeople) -> Bench:
    actor = Actor.of(ours.installer)
    vehicle = actions.add_vehicle(
        body_style="suv", make="Osk", model="Tarn", vin=VIN, vin_kind="vin", actor=actor, now=NOW
    )
    method = actions.add_method(name="Full front", values=METHOD, actor=actor, now=NOW)
    product = FilmProduct.objects.create(maker="Alder", name="Clear 8", family="clear-protective")
    lot = Lot.objects.create(product=product, number="61-0934")
    roll = Roll.objects.create(product=product, lot=lot, label="R3", width_mm=1524, length_mm=15240)
    return Bench(ours, actor, vehicle, method, roll, ShopCatalogue(ours.shop))


@pytest.fixture
def place_of() -> Callable[[Job, str, str], Place]:
    def find(job: Job, panel: str, key: str) -> Place:
        return Place.objects.get(piece__panel_work__job=job, piece__panel_work__panel=panel, key=key)

    return find


@pytest.fixture
def panel_of() -> Callable[[Job, str], PanelWork]:
    def find(job: Job, panel: str) -> PanelWork:
        return PanelWork.objects.get(job=job, panel=panel)

    return find
