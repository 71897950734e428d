"""Stored lives equal what the record says, whatever happened to it."""

from datetime import date, timedelta
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from shopwarranty.defects.keep_lives import catch_up
from shopwarranty.defects.lives import differences, rebuild_lives
from shopwarranty.defects.models import Defect, Life
from shopwarranty.jobs.actions import finish_panel, remove_panel
from shopwarranty.jobs.models import FilmPiece, PanelWork, Place
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Shop
from shopwarranty.shops.scope import shop_scope
from tests import builders as b

DAY0 = b.days_ago(200)


def day(age: int) -> date:
    return DAY0 + timedelta(days=age)


def life_of(job: Any, key: str, number: int = 1) -> Life:
    life: Life = Life.objects.get(place=b.a_place(job, key), number=number)
    return life


@pytest.fixture
def job(ours: Any) -> Any:
    return b.a_job(handed_over_on=DAY0)


def test_every_place_of_a_finished_panel_has_a_life_from_the_day_it_was_finished(job: Any) -> None:
    b.looked_at(job, day(14))
    rebuild_lives([job.pk])
    lives = Life.objects.all()
    assert lives.count() == len(b.places_of(job)) > 4
    assert {(life.starts_on, life.clean_day, life.family) for life in lives} == {
        (DAY0, 14, "clear-protective")
    }


def test_a_lift_below_the_shops_line_is_clean_time_and_moving_the_line_rebuilds(ours: Any, job: Any) -> None:
    b.looked_at(job, day(14), {"window": 1})
    rebuild_lives()
    assert life_of(job, "window").failed_day is None
    Shop.objects.filter(pk=ours.shop.pk).update(failure_line=1)
    assert catch_up(b.NOW).changed == 1
    assert life_of(job, "window").failed_day == 14
    assert catch_up(b.NOW).total == 0


def test_a_finding_that_was_corrected_no_longer_counts(job: Any) -> None:
    visit = b.looked_at(job, day(14), {"window": 3})
    before = visit.findings.get(place=b.a_place(job, "window"))
    before.corrected_at = b.NOW
    before.save()
    b.a_finding(visit, before.place, "clean", corrects=before, correction_why="wrong edge tapped")
    rebuild_lives([job.pk])
    life = life_of(job, "window")
    assert (life.clean_day, life.failed_day, life.ended) == (14, None, "open")


def test_E68_a_defect_that_could_not_be_found_again_is_no_failure(job: Any) -> None:
    b.looked_at(job, day(14), {"window": 3})
    Defect.objects.update(state="not_reproduced", verified=False)
    rebuild_lives([job.pk])
    life = life_of(job, "window")
    assert (life.clean_day, life.failed_day, life.ended) == (None, None, "open")


@pytest.mark.parametrize(
    ("visit", "planned"),
    [
        ({"origin": "planned"}, True),
        ({"origin": "walk_in"}, False),
        ({"origin": "defect"}, False),
        ({"origin": "claim"}, False),
        ({"origin": "planned", "by_photo": True}, False),
    ],
)
def test_only_planned_checks_count_for_rates(job: Any, visit: dict[str, Any], planned: bool) -> None:
    b.looked_at(job, day(14), **visit)
    rebuild_lives([job.pk])
    life = life_of(job, "window")
    assert (life.clean_day, life.all_clean_day) == (14 if planned else None, 14)


def test_E60_a_walk_in_that_settled_a_check_counts_as_planned(job: Any) -> None:
    check = b.a_check(job, due_on=day(14))
    b.looked_at(job, day(15), origin="walk_in", check_due=check)
    rebuild_lives([job.pk])
    assert life_of(job, "window").clean_day == 15


def test_since_when_bounds_the_second_reading_only(job: Any) -> None:
    b.looked_at(job, day(14))
    b.looked_at(job, day(60), {"window": 3}, origin="defect", since_when=day(50))
    b.looked_at(job, day(91), {"window": 3})
    rebuild_lives([job.pk])
    life = life_of(job, "window")
    assert (life.clean_day, life.failed_day, life.all_failed_day) == (14, 91, 50)


def test_E70_a_remedy_starts_a_new_life_and_one_that_changes_nothing_does_not(job: Any) -> None:
    b.looked_at(job, day(14), {"window": 3, "bottom": 3})
    defects = {defect.place.key: defect for defect in Defect.objects.all()}
    b.a_remedy(defects["window"], day(15), "reheat")
    b.a_remedy(defects["bottom"], day(15), "wait")
    rebuild_lives([job.pk])
    assert life_of(job, "window", 2).starts_on == day(15)
    assert Life.objects.filter(place=b.a_place(job, "bottom")).count() == 1


def test_a_replaced_piece_ends_its_lives_and_the_new_piece_starts_the_day_it_was_laid(job: Any) -> None:
    b.looked_at(job, day(14), {"window": 3})
    old = FilmPiece.objects.get()
    old.ended_on, old.ended_why = day(20), "replaced"
    old.save()
    new = b.a_piece(old.panel_work, replaces=old)
    b.a_remedy(Defect.objects.get(), day(20), "replace_piece", new_piece=new)
    rebuild_lives([job.pk])
    old_lives = Life.objects.filter(place__piece=old)
    assert set(old_lives.exclude(place__key="window").values_list("ended_why", flat=True)) == {"replaced"}
    assert old_lives.get(place__key="window").failed_day == 14
    assert set(Life.objects.filter(place__piece=new).values_list("starts_on", "number")) == {(day(20), 1)}


def test_E22_a_panel_taken_off_ends_its_lives_without_a_failure(job: Any) -> None:
    b.looked_at(job, day(14))
    PanelWork.objects.update(removed_on=day(40), removed_why="panel replaced")
    rebuild_lives([job.pk])
    life = life_of(job, "window")
    assert (life.ended, life.ended_day, life.ended_why) == ("other", 40, "panel replaced")


def test_E71_a_place_found_unrecorded_enters_late(job: Any) -> None:
    piece = FilmPiece.objects.get()
    Place.objects.create(piece=piece, key="extra", kind="edge", name="extra edge", added_on=day(14))
    b.looked_at(job, day(14))
    b.looked_at(job, day(91), {"extra": 3})
    rebuild_lives([job.pk])
    life = life_of(job, "extra")
    assert (life.entry_day, life.clean_day, life.failed_day) == (14, 14, 91)


def test_a_panel_still_being_worked_on_has_no_lives(ours: Any) -> None:
    b.a_panel(b.a_job(panels=()), finished_on=None)
    rebuild_lives()
    assert not Life.objects.exists()


def test_a_visit_still_open_says_nothing_yet(job: Any) -> None:
    visit = b.a_visit(job, day(14), finished=False)
    b.a_finding(visit, b.a_place(job, "window"))
    rebuild_lives()
    assert life_of(job, "window").clean_day is None


def test_rebuilding_again_changes_nothing_and_a_part_equals_the_whole(job: Any) -> None:
    other = b.a_job(handed_over_on=DAY0)
    for one in (job, other):
        b.looked_at(one, day(14), {"window": 3}, unseen=("bottom",))
    rebuild_lives([job.pk])
    rebuild_lives([other.pk])
    assert differences().total == 0
    assert rebuild_lives().total == 0


def test_a_panel_finished_or_taken_off_gets_its_lives_from_the_tick(ours: Any) -> None:
    catch_up(b.NOW)
    job = b.a_job(panels=())
    work = b.a_panel(job, finished_on=None)
    actor = Actor.of(ours.installer)
    finish_panel(panel_work=work, actor=actor, now=b.NOW)
    later = b.NOW + timedelta(hours=1)
    assert catch_up(later).made == len(b.places_of(job))
    assert catch_up(later).total == 0
    remove_panel(panel_work=work, why="collision", on=b.TODAY, actor=actor, now=later)
    assert catch_up(later).changed == len(b.places_of(job))
    assert set(Life.objects.values_list("ended", flat=True)) == {"other"}


@pytest.mark.breaks("lives_are_what_the_record_says")
def test_the_command_proves_stored_equals_derived(job: Any, capsys: Any) -> None:
    b.looked_at(job, day(14))
    with pytest.raises(CommandError):
        call_command("rebuild_lives", "--check")
    call_command("rebuild_lives")
    call_command("rebuild_lives", "--check")
    Life.objects.update(clean_day=13)
    with pytest.raises(CommandError):
        call_command("rebuild_lives", "--check", "--shop", "kiln")
    assert "kiln: 0 missing, " in capsys.readouterr().out


def test_lives_of_one_shop_are_never_derived_from_anothers_record(world: Any) -> None:
    for people in (world.ours, world.theirs):
        with shop_scope(people.shop):
            b.looked_at(b.a_job(handed_over_on=DAY0), day(14))
    with shop_scope(world.ours.shop):
        rebuild_lives()
        assert Life.objects.exists()
    with shop_scope(world.theirs.shop):
        assert not Life.objects.exists()


@pytest.mark.parametrize("jobs", [1, 6])
def test_rebuilding_takes_as_many_queries_however_many_jobs(
    ours: Any, jobs: int, django_assert_max_num_queries: Any
) -> None:
    made = [b.a_job(handed_over_on=DAY0) for _ in range(jobs)]
    for one in made:
        b.looked_at(one, day(14), {"window": 3})
    with django_assert_max_num_queries(16):
        rebuild_lives([one.pk for one in made])
