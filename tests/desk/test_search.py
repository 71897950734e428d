"""One field for plate, VIN, name, job, certificate, lot and roll. Common practice, no source."""

from datetime import date, timedelta
from typing import Any

from shopwarranty.desk.search import search
from shopwarranty.jobs.models import Plate
from tests import builders as b
from tests.conftest import ShopPeople

MOVED_ON = date(2026, 2, 1)


def had_before(plate: str, **more: Any) -> Any:
    """A vehicle whose plate came off that day."""
    vehicle = b.a_vehicle(plate=plate, **more)
    Plate.objects.filter(vehicle=vehicle).update(until=MOVED_ON)
    return vehicle


def test_E04_an_old_plate_finds_its_vehicle_and_says_from_when_to_when(ours: ShopPeople) -> None:
    vehicle = had_before("OLD 1", model="Tarn")
    b.a_vehicle(plate="NEW 2", model="Fell")
    (hit,) = search("kiln", "old-1")
    assert (hit.title, hit.exact) == (str(vehicle), True)
    assert "OLD 1 (2025-01-01 – 2026-02-01)" in hit.detail


def test_E05_a_plate_that_two_vehicles_had_shows_both_and_the_days_of_the_first(ours: ShopPeople) -> None:
    had_before("7FN 402", model="Tarn")
    second = b.a_vehicle(plate="7FN 402", model="Fell")
    Plate.objects.filter(vehicle=second).update(since=MOVED_ON + timedelta(days=1))
    shown = ours.client(ours.desk).get("/s/kiln/search/", {"q": "7fn402"}).content.decode()
    assert "Tarn" in shown
    assert "Fell" in shown
    details = {hit.title.split()[-1]: hit.detail for hit in search("kiln", "7fn402")}
    assert "7FN 402 (2025-01-01 – 2026-02-01)" in " ".join(details.values())
    assert len(details) == 2
    assert sum("2025-01-01" in detail for detail in details.values()) == 1
