"""Film that was replaced because it failed has failed, in the unit it was drawn with."""

from math import inf

import pytest

from shopwarranty.jobs.models import FilmPiece, Job
from shopwarranty.trials.models import Trial
from shopwarranty.trials.results import results_of
from tests import builders
from tests.builders import TODAY
from tests.conftest import ShopPeople

from .conftest import DOORS, a_trial, open_job
from .test_any_field import BLADE, REST, draw, handed_over, look


def end_film(job: Job, days_ago: int, why: str, panel: str = DOORS[0]) -> None:
    pieces = FilmPiece.objects.filter(panel_work__job=job, panel_work__panel=panel)
    pieces.update(ended_on=builders.days_ago(days_ago), ended_why=why)


def drawn_job(trial: Trial, people: ShopPeople) -> Job:
    job = open_job()
    draw(trial, job, people)
    handed_over(job, 100)
    return job


@pytest.mark.parametrize("replaced", [86, 80])
def test_a_job_whose_failed_film_was_replaced_has_failed(ours: ShopPeople, replaced: int) -> None:
    trial = a_trial(ours, **REST)
    job = drawn_job(trial, ours)
    look(job, failing=True, day=14, laid_days_ago=100)
    (before,) = results_of(trial, TODAY).file.jobs
    end_film(job, replaced, "replaced")
    (unit,) = results_of(trial, TODAY).file.jobs
    assert (unit.found, unit.at) == (before.found, before.at)
    assert unit.found == 14


def test_a_job_that_lost_a_panel_to_a_collision_is_watched_on_by_the_others(ours: ShopPeople) -> None:
    trial = a_trial(ours, **REST, panels=())
    job = drawn_job(trial, ours)
    end_film(job, 50, "panel_replaced")
    visit = builders.a_visit(job, builders.days_ago(5), finished=True)
    for place in builders.places_of(job, DOORS[1]):
        builders.a_finding(visit, place)
    (unit,) = results_of(trial, TODAY).file.jobs
    assert (unit.last_clean, unit.found) == (95.0, inf)


def test_film_cut_anew_before_its_panel_was_finished_is_not_waited_for(ours: ShopPeople) -> None:
    trial = a_trial(ours, **REST)
    job = drawn_job(trial, ours)
    end_film(job, 101, "replaced")
    look(job, failing=False, day=95, laid_days_ago=100)
    visit = builders.a_visit(job, builders.days_ago(4), finished=True)
    for place in builders.places_of(job, DOORS[1]):
        builders.a_finding(visit, place)
    (unit,) = results_of(trial, TODAY).file.jobs
    assert unit.last_clean == 96.0


def test_a_panel_whose_failed_film_was_replaced_settles_its_pair(ours: ShopPeople) -> None:
    trial = a_trial(ours, **BLADE)
    job = open_job()
    rows = draw(trial, job, ours)
    handed_over(job, 20)
    visit = builders.a_visit(job, TODAY, finished=False)
    failing = next(row.panel for row in rows if row.arm == "other")
    for place in builders.places_of(job):
        if place.piece.panel_work.panel == failing and place.kind == "edge":
            builders.a_defect(visit, place, severity=3)
        else:
            builders.a_finding(visit, place)
    type(visit).objects.filter(pk=visit.pk).update(state="finished")
    end_film(job, 0, "replaced", failing)
    answer = results_of(trial, TODAY).as_drawn
    assert (answer.standing.counts.other, answer.standing.counts.usual) == (1, 0)
