"""The read model of a job: everything once, names resolved, in the same number of queries for any size."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from shopwarranty.jobs import actions
from shopwarranty.jobs.models import Job, PanelWork, Place
from shopwarranty.jobs.record import load_record
from tests.conftest import NOW

from .conftest import Bench

PlaceOf = Callable[[Job, str, str], Place]
PanelOf = Callable[[Job, str], PanelWork]
HOUR = timedelta(hours=1)


def test_a_full_front_has_eight_panels_in_walking_order_and_fifty_places(bench: Bench) -> None:
    record = load_record(bench.front())
    assert [panel.name for panel in record.panels] == [
        "front bumper",
        "hood",
        "left front fender",
        "left mirror cap",
        "left front door",
        "right front door",
        "right mirror cap",
        "right front fender",
    ]
    assert len(record.places) == 50  # 42 edges and recesses, and the surface of each panel
    assert record.panels[4].places[0].name == "front edge"


def test_the_number_of_queries_does_not_grow_with_the_job(
    bench: Bench, django_assert_num_queries: Any
) -> None:
    small, large = bench.front(("bonnet",)), bench.front()
    for panel_work in large.panels.all():
        actions.confirm_panel(panel_work=panel_work, finished=True, actor=bench.actor, now=NOW)
    for job in (small, large):
        with django_assert_num_queries(17):
            load_record(job)


def test_e32_a_panel_goes_by_the_nearest_reading_before_it_was_finished(
    bench: Bench, panel_of: PanelOf
) -> None:
    job = bench.front(("bonnet", "left-wing"))
    for hours, air in ((3, 18.0), (1, 21.0)):
        actions.record_reading(
            job=job,
            conditions=actions.Conditions(air_c=air, surface_c=air - 1, humidity=50),
            at=NOW - hours * HOUR,
            actor=bench.actor,
            now=NOW,
        )
    for panel, hours in (("bonnet", 2), ("left-wing", 0)):
        actions.finish_panel(
            panel_work=panel_of(job, panel), finished_at=NOW - hours * HOUR, actor=bench.actor, now=NOW
        )
    airs = {panel.key: panel.reading and panel.reading.air.value for panel in load_record(job).panels}
    assert airs == {"bonnet": 18.0, "left-wing": 21.0}


def test_e31_a_panel_without_a_reading_that_day_stays_not_measured(bench: Bench, panel_of: PanelOf) -> None:
    job = bench.front(("bonnet",), started_at=NOW - 48 * HOUR)
    actions.record_reading(
        job=job,
        conditions=actions.Conditions(air_c=18.0),
        at=NOW - 24 * HOUR,
        actor=bench.actor,
        now=NOW,
    )
    actions.finish_panel(panel_work=panel_of(job, "bonnet"), actor=bench.actor, now=NOW)
    assert load_record(job).panels[0].reading is None


def test_a_shop_that_reads_metric_says_bonnet(bench: Bench) -> None:
    bench.people.shop.units = "metric"
    bench.people.shop.save()
    assert load_record(bench.front(("bonnet",))).panels[0].name == "bonnet"
