"""What the last job on the same model tells a new one: looked at first, stated by who presses, taken back."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from shopwarranty.films.models import Cut
from shopwarranty.jobs import actions
from shopwarranty.jobs.copying import last_similar
from shopwarranty.jobs.models import Deviation, Job, Place, RemovedItem
from shopwarranty.jobs.technique_rows import Said
from shopwarranty.shops.rows import Basis
from tests.conftest import NOW

from .conftest import Bench

PANELS = ("bonnet", "left-front-door")


def url(name: str, *args: Any) -> str:
    return reverse(name, args=["kiln", *args])


@pytest.fixture
def earlier(bench: Bench, place_of: Any, panel_of: Any) -> Job:
    """A finished job: wrap-in wanted 12 mm, an edge under rubber, a handle off, a piece 1300 by 1524 mm."""
    job = bench.front(PANELS)
    said = {
        "wrap_in_wanted_mm": Said(12.0, Basis.STATED),
        "wrap_in_reached_mm": Said(9.0, Basis.MEASURED),
        "covered_by": Said("rubber", Basis.STATED),
        "post_heat_c": Said(95.0, Basis.MEASURED),
        "passes": Said(4, Basis.STATED),
    }
    place = place_of(job, "left-front-door", "bottom")
    actions.set_place_values(place=place, values=said, actor=bench.actor, now=NOW)
    door = panel_of(job, "left-front-door")
    actions.add_removed_item(panel_work=door, name="outer handle", actor=bench.actor, now=NOW)
    cut = Cut.objects.create(roll=bench.roll, kind="piece", along_mm=1300, across_mm=1524, cut_at=NOW)
    actions.set_cut(piece=door.pieces.get(), cut=cut, actor=bench.actor, now=NOW)
    for panel in PANELS:
        actions.finish_panel(panel_work=panel_of(job, panel), actor=bench.actor, now=NOW)
    return job


@pytest.fixture
def client(bench: Bench) -> Client:
    return bench.people.client(bench.people.installer)


def all_keys(client: Client, job: Job) -> list[str]:
    groups = client.get(url("copy-last", job.pk)).context["groups"]
    return [line.key for _panel, lines in groups for line in lines]


def test_a_new_job_on_the_same_model_is_offered_the_last_one(
    client: Client, bench: Bench, earlier: Job
) -> None:
    job = bench.front(PANELS)
    assert last_similar(job) == earlier
    assert f"job {earlier.ref}: wanted wrap-in" in client.get(url("job", job.pk)).content.decode()
    page = client.get(url("copy-last", job.pk)).content.decode()
    assert "Outer handle comes off" in page
    assert page.count('name="line"') == 4  # wrap-in, cover, part, size: nothing reached, heated or counted


def test_what_is_taken_over_is_stated_and_says_where_it_is_from(
    client: Client, bench: Bench, earlier: Job, place_of: Any, panel_of: Any
) -> None:
    job = bench.front(PANELS)
    client.post(url("copy-last", job.pk), {"line": all_keys(client, job)})
    place = place_of(job, "left-front-door", "bottom")
    assert (place.wrap_in_wanted_mm, place.wrap_in_wanted_mm_basis) == (12.0, Basis.STATED)
    assert (place.covered_by, place.covered_by_basis) == ("rubber", Basis.STATED)
    assert (place.wrap_in_reached_mm, place.post_heat_c, place.passes) == (None, None, None)
    reasons = Deviation.objects.filter(job=job).values_list("reason", flat=True)
    assert set(reasons) == {f"As on job {earlier.ref}"}
    door = panel_of(job, "left-front-door")
    assert [item.name for item in door.removed_items.all()] == ["outer handle"]
    assert f"As on job {earlier.ref}: Cut" in door.note
    assert door.pieces.get().cut is None  # a size is told; no film was taken off a roll
    assert client.get(url("job-history", job.pk)).status_code == 200


def test_only_the_lines_left_chosen_are_taken_over(client: Client, bench: Bench, earlier: Job) -> None:
    job = bench.front(PANELS)
    parts = [key for key in all_keys(client, job) if "/off/" in key]
    client.post(url("copy-last", job.pk), {"line": [*parts, "999/covered_by"]})
    assert RemovedItem.objects.filter(panel_work__job=job).count() == 1
    assert not Place.objects.filter(piece__panel_work__job=job, wrap_in_wanted_mm__isnull=False).exists()


def test_what_somebody_said_already_is_not_overwritten(
    client: Client, bench: Bench, earlier: Job, place_of: Any
) -> None:
    job = bench.front(PANELS)
    place = place_of(job, "left-front-door", "bottom")
    said = {"wrap_in_wanted_mm": Said(6.0, Basis.STATED)}
    actions.set_place_values(place=place, values=said, actor=bench.actor, now=NOW)
    client.post(url("copy-last", job.pk), {"line": [*all_keys(client, job), f"{place.pk}/wrap_in_wanted_mm"]})
    place.refresh_from_db()
    assert (place.wrap_in_wanted_mm, place.covered_by) == (6.0, "rubber")


def test_taking_over_is_taken_back_but_for_what_was_changed_since(
    client: Client, bench: Bench, earlier: Job, place_of: Any, panel_of: Any
) -> None:
    job = bench.front(PANELS)
    client.post(url("copy-last", job.pk), {"line": all_keys(client, job)})
    place = place_of(job, "left-front-door", "bottom")
    said = {"covered_by": Said("trim", Basis.STATED)}
    actions.set_place_values(place=place, values=said, actor=bench.actor, now=NOW)
    client.post(url("copy-undo", job.pk))
    place.refresh_from_db()
    assert (place.wrap_in_wanted_mm, place.wrap_in_wanted_mm_basis, place.covered_by) == (None, "", "trim")
    door = panel_of(job, "left-front-door")
    assert (door.removed_items.count(), door.note) == (0, "")
    again = client.post(url("copy-undo", job.pk), follow=True).content.decode()
    assert "There is nothing to take back." in again


def test_nothing_is_offered_on_another_model_or_once_a_panel_is_confirmed(
    client: Client, bench: Bench, earlier: Job, panel_of: Any
) -> None:
    other = actions.add_vehicle(body_style="suv", make="Osk", model="Fell", actor=bench.actor, now=NOW)
    assert last_similar(bench.job(vehicle=other)) is None
    job = bench.front(PANELS)
    actions.confirm_panel(panel_work=panel_of(job, "bonnet"), actor=bench.actor, now=NOW)
    assert all_keys(client, job) == []
    assert "Nothing to take over" in client.get(url("copy-last", job.pk)).content.decode()
