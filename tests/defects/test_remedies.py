"""What a remedy leaves behind: film off the roll, a check to look again, a new life."""

from datetime import timedelta

import pytest

from shopwarranty.defects.actions import How, record_remedy
from shopwarranty.defects.actions.refusals import OutOfOrder
from shopwarranty.defects.models import Defect, Life
from shopwarranty.films.models import Cut
from shopwarranty.inspections.actions import plan_checks
from shopwarranty.inspections.models import Check
from shopwarranty.jobs.actions import FilmChoice
from shopwarranty.shops.history import Actor
from tests import builders
from tests.builders import TODAY, days_ago
from tests.conftest import NOW, ShopPeople


@pytest.fixture
def defect(ours: ShopPeople) -> Defect:
    job = builders.a_job(handed_over_on=days_ago(30))
    return builders.a_defect(builders.a_visit(job, days_ago(3)), builders.places_of(job)[0])


def test_film_minutes_cost_and_who_are_kept_and_the_roll_gets_shorter(
    ours: ShopPeople, defect: Defect
) -> None:
    roll = builders.a_roll()
    how = How(minutes=40, film=FilmChoice(roll=roll), off_roll_mm=600.0)
    remedy = record_remedy(
        defect=defect, kind="replace_piece", done_on=TODAY, how=how, actor=Actor.of(ours.installer), now=NOW
    )
    assert (remedy.minutes, remedy.member, remedy.cut) == (40, ours.installer, Cut.objects.get())
    cut = Cut.objects.get()
    assert (cut.roll, cut.off_roll_mm) == (roll, 600.0)
    assert remedy.new_piece is not None
    assert set(Life.objects.filter(place__piece=remedy.new_piece).values_list("starts_on", flat=True)) == {
        TODAY
    }


def test_a_check_to_look_again_is_planned_for_this_vehicle_and_for_no_other(
    ours: ShopPeople, defect: Defect
) -> None:
    on = TODAY + timedelta(days=14)
    record_remedy(
        defect=defect,
        kind="reheat",
        done_on=TODAY,
        how=How(look_again_on=on),
        actor=Actor.of(ours.desk),
        now=NOW,
    )
    check = Check.objects.get()
    assert (check.due_on, check.job) == (on, defect.place.piece.panel_work.job)
    assert check.window_from <= on <= check.window_to
    other = builders.a_job(handed_over_on=TODAY)
    plan_checks(job=other, handed_over_on=TODAY, now=NOW)
    assert not Check.objects.filter(job=other, plan=check.plan).exists()


def test_looking_again_lies_after_the_remedy(ours: ShopPeople, defect: Defect) -> None:
    how, desk = How(look_again_on=TODAY), Actor.of(ours.desk)
    with pytest.raises(OutOfOrder):
        record_remedy(defect=defect, kind="reheat", done_on=TODAY, how=how, actor=desk, now=NOW)
    assert not Check.objects.exists()
