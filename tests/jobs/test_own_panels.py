"""Panels and places of the shop's own: written by an owner, drawn, recorded, retired with their name kept."""

from typing import Any

from django.test import Client
from django.urls import reverse

from shopwarranty.jobs.models import ShopPanel, ShopPlace
from shopwarranty.jobs.record import load_record
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from tests.conftest import ShopPeople

from .conftest import Bench


def url(name: str, *args: Any) -> str:
    return reverse(name, args=["kiln", *args])


def owner_of(people: ShopPeople) -> Client:
    return people.client(people.owner)


PANEL = {"panel-name": "Loading step", "panel-edges": "front lip\nrear lip", "add_panel": "1"}
PLACE = {
    "place-panel": "bonnet",
    "place-name": "scoop",
    "place-kind": "recess",
    "place-spot": "2",
    "add_place": "1",
}


def test_an_owner_adds_a_panel_and_a_place_and_they_are_recorded_and_drawn(bench: Bench) -> None:
    client = owner_of(bench.people)
    client.post(url("own-panels"), PANEL)
    client.post(url("own-panels"), PLACE)
    catalogue = ShopCatalogue(bench.people.shop)
    bench = Bench(bench.people, bench.actor, bench.vehicle, bench.method, bench.roll, catalogue)
    job = bench.front(("bonnet", "own-loading-step"))
    record = load_record(job)
    assert [panel.name for panel in record.panels] == ["hood", "Loading step"]
    assert [place.name for place in record.panels[1].places] == ["front lip", "rear lip", "surface"]
    overview = client.get(url("job", job.pk)).content.decode()
    assert "Loading step" in overview
    for panel in record.panels:
        page = client.get(url("panel", panel.id)).content.decode()
        assert all(f"?place={place.id}#place" in page for place in panel.places)


def test_the_same_name_twice_is_refused_with_what_was_typed(bench: Bench) -> None:
    client = owner_of(bench.people)
    for form in (PANEL, PLACE):
        client.post(url("own-panels"), form)
        page = client.post(url("own-panels"), form).content.decode()
        assert "already." in page
    assert "front lip" in client.post(url("own-panels"), PANEL).content.decode()
    assert (ShopPanel.objects.count(), ShopPlace.objects.count()) == (1, 1)


def test_what_is_retired_keeps_its_name_on_recorded_jobs(bench: Bench) -> None:
    client = owner_of(bench.people)
    client.post(url("own-panels"), PANEL)
    catalogue = ShopCatalogue(bench.people.shop)
    bench = Bench(bench.people, bench.actor, bench.vehicle, bench.method, bench.roll, catalogue)
    job = bench.front(("own-loading-step",))
    client.post(url("retire-own-panel", ShopPanel.objects.get().pk))
    assert load_record(job).panels[0].name == "Loading step"
    assert "own-loading-step" not in ShopCatalogue(bench.people.shop).panel_keys("suv")
    assert client.get(url("panel", job.panels.get().pk)).status_code == 200


def test_a_place_is_not_put_on_a_body_style_without_the_panel(bench: Bench) -> None:
    form = {**PLACE, "place-panel": "left-sliding-door", "place-body_style": "coupe"}
    page = owner_of(bench.people).post(url("own-panels"), form).content.decode()
    assert "has no such panel" in page


def test_only_owners_write_the_catalogue(bench: Bench) -> None:
    for member in (bench.people.installer, bench.people.desk):
        assert bench.people.client(member).get(url("own-panels")).status_code == 403
