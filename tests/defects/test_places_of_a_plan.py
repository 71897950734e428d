"""What a check plan asks for decides what a visit shows, sweeps and writes down."""

from typing import Any

import pytest

from shopwarranty.defects import actions
from shopwarranty.defects.models import LiftLikelihood
from shopwarranty.defects.walk import load_walk, places_of
from shopwarranty.inspections.actions import start_visit
from shopwarranty.inspections.models import Finding, Visit
from shopwarranty.jobs.models import Place
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.shops.history import Actor
from tests import builders as b

from .test_pages import job as job
from .test_pages import now as now


@pytest.fixture
def hand(ours: Any) -> Actor:
    return Actor.of(ours.installer)


def visited(job: Any, hand: Actor, places: str) -> Visit:
    check = b.a_check(job, plan=b.a_plan(f"of-{places}", places=places))
    return start_visit(
        job=job, origin=Visit.Origin.PLANNED, check=check, actor=hand, now=b.NOW, today=b.TODAY
    )


def kinds_of(visit: Visit) -> set[str]:
    return {place.kind for place in places_of(visit)}


def test_a_check_of_recesses_shows_and_writes_down_recesses_only(job: Any, hand: Actor) -> None:
    visit = visited(job, hand, "recesses")
    assert kinds_of(visit) == {"recess"}
    actions.finish_look(visit=visit, actor=hand, now=b.NOW, note="", signed_name="")
    seen = Finding.objects.filter(visit=visit)
    assert {finding.place.kind for finding in seen} == {"recess"}
    assert {finding.result for finding in seen} == {"not_looked"}


def test_a_sweep_in_it_says_nothing_of_places_it_did_not_show(job: Any, hand: Actor) -> None:
    visit = visited(job, hand, "recesses")
    work = places_of(visit)[0].piece.panel_work
    shown = [place.pk for place in places_of(visit) if place.piece.panel_work_id == work.pk]
    swept = actions.save_panel(
        visit=visit, panel_work=work, said=(), sweep=True, among=shown, actor=hand, now=b.NOW
    )
    assert swept == len(shown) < Place.objects.filter(piece__panel_work=work).count()
    assert set(visit.findings.values_list("place", flat=True)) == set(shown)


def test_what_is_wrong_elsewhere_is_shown_too_and_all_places_when_asked(job: Any, hand: Actor) -> None:
    edge = Place.objects.filter(piece__panel_work__job=job, kind="edge").first()
    assert edge is not None
    b.a_defect(b.a_visit(job, b.days_ago(3)), edge)
    visit = visited(job, hand, "recesses")
    assert edge in places_of(visit)
    assert len(places_of(visit, everything=True)) == Place.objects.filter(piece__panel_work__job=job).count()


def test_the_page_of_a_panel_sweeps_what_it_shows(ours: Any, job: Any, hand: Actor, now: Any) -> None:
    visit = visited(job, hand, "recesses")
    stop = load_walk(visit, ShopCatalogue(ours.shop)).stops[0]
    client, path = ours.client(ours.installer), f"/s/kiln/visits/{visit.pk}/panels/{stop.work_id}/"
    shown = client.get(path).content.decode()
    assert "All places of this panel" in shown
    assert shown.count('class="sheet place') < client.get(f"{path}?all=1").content.decode().count(
        'class="sheet place'
    )
    assert "Show all places" in client.get(f"/s/kiln/visits/{visit.pk}/").content.decode()


def test_a_vehicle_without_a_recess_is_looked_at_everywhere(job: Any, hand: Actor) -> None:
    Place.objects.filter(kind="recess").update(kind="edge")
    assert len(places_of(visited(job, hand, "recesses"))) == Place.objects.count()


def test_a_check_of_the_likeliest_begins_with_their_panel_and_shows_all(job: Any, hand: Actor) -> None:
    last = list(job.panels.order_by("walk", "pk"))[-1]
    place = Place.objects.filter(piece__panel_work=last).first()
    assert place is not None
    LiftLikelihood.objects.create(place=place, likelihood=0.9, rank=1, reason="r", worked_out_at=b.NOW)
    visit = visited(job, hand, "likeliest")
    found = places_of(visit)
    assert found[0].piece.panel_work_id == last.pk
    assert len(found) == Place.objects.filter(piece__panel_work__job=job).count()
