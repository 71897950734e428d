"""From looks to the answer: by arm as drawn and as done, files, checks, and what was learnt."""

from datetime import timedelta
from typing import Any

import pytest

from shopwarranty.analysis.trial_pairs import Answer
from shopwarranty.analysis.trial_pooling import NotTheSameTrial, write_file
from shopwarranty.analysis.trial_sequence import Said
from shopwarranty.inspections.models import Check, CheckPlan
from shopwarranty.jobs.actions import add_usual_method
from shopwarranty.jobs.models import Job, PanelWork
from shopwarranty.shops.history import Actor
from shopwarranty.shops.scope import shop_scope
from shopwarranty.trade.technique import Level
from shopwarranty.trials import actions, doing
from shopwarranty.trials.checks import plan_every_shops_checks
from shopwarranty.trials.models import Draw, Trial
from shopwarranty.trials.planning import Asked, forecast
from shopwarranty.trials.results import pooled_of, results_of
from shopwarranty.trials.words import answer_words, plan_words
from tests import builders
from tests.builders import TODAY, noon
from tests.conftest import NOW, ShopPeople, World

from .conftest import a_trial, open_job


def drawn_job(trial: Trial, people: ShopPeople, *, laid_days_ago: int = 20) -> Job:
    """Drawn, done as drawn, finished and handed over that long ago."""
    job = open_job()
    by: dict[str, Any] = {"actor": Actor.of(people.installer), "now": NOW}
    for row in actions.draw(trial=trial, job=job, **by):
        doing.say_done_as_drawn(draw=row, **by)
    on = builders.days_ago(laid_days_ago)
    PanelWork.objects.filter(job=job).update(finished_at=noon(on))
    Job.objects.filter(pk=job.pk).update(state="handed_over", handed_over_on=on, handed_over_at=noon(on))
    job.refresh_from_db()
    return job


def look(job: Job, trial: Trial, failing: str, *, unseen: bool = False, kind: str = "edge-lift") -> None:
    """A visit today in which every half of that arm failed; with `unseen` the other halves were not seen."""
    visit = builders.a_visit(job, TODAY, finished=False)
    for row in Draw.objects.filter(job=job, trial=trial).select_related("place"):
        assert row.place is not None
        if row.arm == failing:
            builders.a_defect(visit, row.place, kind=kind, severity=3)
        else:
            builders.a_finding(visit, row.place, "not_looked" if unseen else "clean")
    type(visit).objects.filter(pk=visit.pk).update(state="finished", finished_at=noon(TODAY))


def test_pairs_whose_other_half_failed_say_that_it_makes_places_fail(ours: ShopPeople) -> None:
    trial = a_trial(ours)
    for _ in range(6):
        look(drawn_job(trial, ours), trial, "other")
    results = results_of(trial, TODAY)
    assert results.as_drawn.standing.counts.usual == 0
    assert results.as_drawn.standing.said is Said.MORE
    assert results.as_drawn.pairs == results.as_drawn.settled == results.halves // 2
    assert results.as_done == results.as_drawn
    assert "makes places fail more often" in answer_words(trial, results.as_drawn)


def test_a_half_nobody_looked_at_settles_nothing(ours: ShopPeople) -> None:
    trial = a_trial(ours)
    look(drawn_job(trial, ours), trial, "other", unseen=True)
    assert results_of(trial, TODAY).as_drawn.settled == 0


def test_only_the_kinds_that_count_are_counted(ours: ShopPeople) -> None:
    trial = a_trial(ours, defect_kinds=("corner-lift",))
    look(drawn_job(trial, ours), trial, "other")
    assert results_of(trial, TODAY).as_drawn.settled == 0


def test_arms_done_the_other_way_round_change_over_as_done(ours: ShopPeople) -> None:
    trial = a_trial(ours)
    job = drawn_job(trial, ours)
    Draw.objects.filter(job=job).update(done_as="other", done_why="mixed up")
    look(job, trial, "other")
    results = results_of(trial, TODAY)
    assert isinstance(results.as_done, Answer)
    assert results.as_done.standing.counts.other == results.as_drawn.standing.counts.usual == 0
    assert results.as_done.standing.counts.usual == results.as_drawn.standing.counts.other > 0


def test_halves_nobody_said_anything_of_count_as_drawn_but_not_as_done(ours: ShopPeople) -> None:
    trial = a_trial(ours)
    job = drawn_job(trial, ours)
    Draw.objects.filter(job=job).update(done_as="")
    look(job, trial, "other")
    results = results_of(trial, TODAY)
    assert results.as_drawn.settled > 0
    assert isinstance(results.as_done, Answer)
    assert results.as_done.pairs == 0
    assert results.unsaid == results.halves


def test_a_file_of_another_shop_is_pooled_to_the_digit(world: World) -> None:
    files = {}
    for people in (world.theirs, world.ours):
        with shop_scope(people.shop):
            trial = a_trial(people)
            look(drawn_job(trial, people), trial, "other" if people is world.ours else "usual")
            files[people.shop.slug] = results_of(trial, TODAY).file
    theirs, ours = files["fennel"], files["kiln"]
    by: dict[str, Any] = {"actor": Actor.of(world.ours.owner), "now": NOW}
    with shop_scope(world.ours.shop):
        trial = Trial.objects.get()
        actions.add_other_file(trial=trial, ours=ours, content=write_file(theirs), **by)
        pooled = pooled_of(trial, ours)
        assert pooled is not None
        alone = {file.key: answer for file, answer in pooled.each}
        assert alone[ours.key] == results_of(trial, TODAY).as_drawn
        assert pooled.together.settled == sum(answer.settled for answer in alone.values())
        with pytest.raises(NotTheSameTrial):
            actions.add_other_file(trial=trial, ours=ours, content=write_file(theirs), **by)
    with shop_scope(world.theirs.shop):
        assert alone[theirs.key] == results_of(Trial.objects.get(), TODAY).as_drawn


def test_a_file_names_neither_people_nor_vehicles_nor_days(ours: ShopPeople) -> None:
    trial = a_trial(ours)
    job = drawn_job(trial, ours)
    look(job, trial, "other")
    content = write_file(results_of(trial, TODAY).file).decode()
    for word in (job.ref, ours.shop.slug, ours.shop.name, str(TODAY), "2026", ours.installer.name):
        assert word not in content


def test_checks_of_a_trial_are_denser_and_planned_once(ours: ShopPeople) -> None:
    trial = a_trial(ours)
    job = drawn_job(trial, ours, laid_days_ago=3)
    plan_every_shops_checks(NOW)
    plan_every_shops_checks(NOW)
    rows = Check.objects.filter(job=job, plan__key__startswith="trial-")
    assert job.handed_over_on is not None
    assert [row.due_on - job.handed_over_on for row in rows] == [timedelta(days=14), timedelta(days=90)]
    assert not CheckPlan.objects.filter(key__startswith="trial-", retired_at__isnull=True).exists()


def test_what_was_learnt_becomes_a_version_that_changes_nothing_else(ours: ShopPeople) -> None:
    trial = a_trial(ours)
    by: dict[str, Any] = {"actor": Actor.of(ours.owner), "now": NOW}
    version = add_usual_method(**by)
    new = actions.adopt(trial=trial, method=version.method, note="Learnt", **by)
    assert new.number == version.number + 1
    assert new.values["panels"] == {"front-door": {"edge": {"post_heated": False}}}
    assert {key: part for key, part in new.values.items() if key != "panels"} == version.values


def test_without_a_failure_on_record_the_plan_says_that_nobody_will_know(ours: ShopPeople) -> None:
    asked = Asked("sides", Level.PLACE, ("edge",), (), 90, 2.0)
    plan = forecast(asked, TODAY)
    assert plan.outlook.months is None
    assert "never know" in plan_words(plan)
