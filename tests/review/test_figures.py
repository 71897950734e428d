"""What the review says of shops small enough to work out by hand."""

from datetime import date, timedelta
from typing import Any

import pytest

from shopwarranty.defects.lives import rebuild_lives
from shopwarranty.defects.models import Defect
from shopwarranty.jobs.models import Place
from tests import builders as b
from tests.conftest import ShopPeople

from . import reading

DAY0 = b.days_ago(200)
DOOR = "left-front-door"


def day(age: int) -> date:
    return DAY0 + timedelta(days=age)


def ends(job: Any) -> int:
    return Place.objects.filter(piece__panel_work__job=job).exclude(kind="field").count()


@pytest.fixture
def doors(ours: ShopPeople) -> list[Any]:
    """Three doors. One is clean on day 14 and 90; one has its window line wrong on day 14; one nobody saw."""
    lot = b.a_lot(number="61-0934")
    jobs = [b.a_job(handed_over_on=DAY0, lot=lot) for _ in range(3)]
    b.looked_at(jobs[0], day(14))
    b.looked_at(jobs[0], day(90))
    b.looked_at(jobs[1], day(14), {"window": 3}, unseen=["handle"])
    rebuild_lives()
    return jobs


def test_a_tiny_shop_gives_the_figures_worked_out_by_hand(ours: ShopPeople, doors: list[Any]) -> None:
    n = ends(doors[0])
    found = reading.as_json(ours)
    door = next(g for g in found["groups"]["panel"] if g["level"] == DOOR)
    # first door 90 days each; second 14 days each, but 7 where it failed and none where nobody looked
    days = 90 * n + 14 * (n - 2) + 7
    assert (found["rows"], found["clusters"], found["failures"]) == (3 * n, 3, 1)
    assert (door["edges"], door["failures"], door["edge_days"]) == (2 * n - 1, 1, days)
    assert door["rate"] == pytest.approx(100 * 365.25 / days)


def test_a_place_nobody_looked_at_is_in_no_denominator_but_is_counted_as_unseen(
    ours: ShopPeople, doors: list[Any]
) -> None:
    n = ends(doors[0])
    door = reading.line(reading.page(ours), "panel", DOOR)
    assert (door.watched, door.recorded, door.vehicles) == (str(2 * n - 1), str(3 * n), "2")
    unseen = f"/s/{ours.shop.slug}/review/places/?what=unseen"
    assert reading.counted(ours, unseen) == n + 1


def test_the_surface_is_shown_apart(ours: ShopPeople, doors: list[Any]) -> None:
    ends_only = reading.as_json(ours)
    surface = reading.as_json(ours, part="surface")
    assert {g["level"] for g in ends_only["groups"]["place_kind"]} == {"edge", "recess"}
    assert {g["level"] for g in surface["groups"]["place_kind"]} == {"field"}
    assert (surface["rows"], surface["failures"], surface["effects"]) == (3, 0, [])


def test_film_families_are_never_mixed(ours: ShopPeople, doors: list[Any]) -> None:
    vinyl = b.a_lot(b.a_product("colour-change"))
    other = b.a_job(handed_over_on=DAY0, lot=vinyl)
    b.looked_at(other, day(14), {"window": 3, "bottom": 3})
    rebuild_lives()
    assert reading.as_json(ours)["failures"] == 1
    assert reading.as_json(ours, family="colour-change")["failures"] == 2
    assert "color-change vinyl" in reading.text(reading.page(ours, family="colour-change"))


def test_places_without_a_recorded_film_are_in_no_family_and_said(ours: ShopPeople, doors: list[Any]) -> None:
    Place.objects.filter(piece__panel_work__job=doors[0]).first()
    piece = doors[0].panels.get().pieces.get()
    piece.product = piece.lot = None
    piece.save()
    rebuild_lives()
    gone = ends(doors[0]) + 1
    assert f"No film is recorded on {gone} places" in reading.text(reading.page(ours))
    assert reading.counted(ours, f"/s/{ours.shop.slug}/review/places/?what=no_film") == gone


def test_a_callback_counts_at_the_next_planned_check_and_until_then_is_only_said(
    ours: ShopPeople, doors: list[Any]
) -> None:
    b.looked_at(doors[0], day(120), {"bottom": 3}, origin="defect")
    rebuild_lives()
    assert reading.as_json(ours)["failures"] == 1
    assert reading.counted(ours, f"/s/{ours.shop.slug}/review/places/?what=between") == 1
    said = reading.text(reading.page(ours))
    assert "there are 2 failures instead of 1" in said
    b.looked_at(doors[0], day(180), {"bottom": 3})
    rebuild_lives()
    assert reading.as_json(ours)["failures"] == 2


def test_damage_from_outside_ends_the_watch_and_is_no_failure(ours: ShopPeople, doors: list[Any]) -> None:
    visit = b.a_visit(doors[0], day(150), finished=False)
    b.a_defect(visit, b.a_place(doors[0], "bottom"), "impact-damage", severity=4)
    visit.state, visit.finished_at = "finished", b.noon(day(150))
    visit.save()
    rebuild_lives()
    assert reading.as_json(ours)["failures"] == 1
    assert "Damage from outside, at 1 places, ends the watch" in reading.text(reading.page(ours))


def test_filters_narrow_by_body_style_and_by_the_day_a_panel_was_finished(
    ours: ShopPeople, doors: list[Any]
) -> None:
    saloon = b.a_job(vehicle=b.a_vehicle(body_style="saloon"), handed_over_on=day(30))
    b.looked_at(saloon, day(44), {"window": 3})
    rebuild_lives()
    assert reading.as_json(ours)["failures"] == 2
    assert reading.as_json(ours, body="saloon")["rows"] == ends(saloon)
    assert reading.as_json(ours, since=day(1).isoformat())["rows"] == ends(saloon)
    assert reading.as_json(ours, until=day(29).isoformat())["rows"] == 3 * ends(doors[0])


def test_a_period_that_ends_before_it_begins_is_refused_in_words_and_kept_as_typed(
    ours: ShopPeople, doors: list[Any]
) -> None:
    said = reading.text(reading.page(ours, since="2026-06-02", until="2026-06-01"))
    assert "This day lies before the first one." in said
    assert 'value="2026-06-02"' in said


def test_the_rule_for_a_failure_is_on_the_page_with_the_shops_own_line(
    ours: ShopPeople, doors: list[Any]
) -> None:
    said = reading.text(reading.page(ours))
    assert "A failure: a check found severity 2 (visible at about 1 m, stable) or worse." in said
    assert "edge lift" in said


def test_an_empty_shop_is_told_how_the_page_comes_to_life(ours: ShopPeople) -> None:
    said = reading.text(reading.page(ours))
    assert "No places are being watched yet." in said
    assert "two-week check" in said


def test_another_shops_lives_are_in_no_figure(world: Any) -> None:
    from shopwarranty.shops.scope import shop_scope

    for people in (world.ours, world.theirs):
        with shop_scope(people.shop):
            job = b.a_job(handed_over_on=DAY0)
            b.looked_at(job, day(14), {"window": 3} if people is world.theirs else {})
            rebuild_lives()
    assert reading.as_json(world.ours)["failures"] == 0
    assert reading.as_json(world.theirs)["failures"] == 1


def test_a_corrected_finding_changes_the_page_although_it_was_kept(
    ours: ShopPeople, doors: list[Any]
) -> None:
    assert reading.as_json(ours)["failures"] == 1
    Defect.objects.update(state="not_reproduced", verified=False)
    rebuild_lives()
    assert reading.as_json(ours)["failures"] == 0
