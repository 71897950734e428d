"""Fields of panels, jobs and of the shop's own; whole jobs as units; what was done neither way."""

from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse

from shopwarranty.analysis.trial_blocks import JobsAnswer
from shopwarranty.analysis.trial_draw import job_gets_other
from shopwarranty.analysis.trial_pairs import Answer
from shopwarranty.analysis.trial_pooling import pool, read_file, write_file
from shopwarranty.jobs.models import Deviation, FieldValue, Job, PanelWork, Place, ShopField
from shopwarranty.shops.history import Actor
from shopwarranty.trials import actions, doing
from shopwarranty.trials.forms import QuestionForm
from shopwarranty.trials.models import Draw, Trial
from shopwarranty.trials.pairs import pairs_on
from shopwarranty.trials.planning import Asked, forecast
from shopwarranty.trials.refusals import NoPairHere, WrongUnit
from shopwarranty.trials.results import JobsDone, results_of
from shopwarranty.trials.technique import field_of, fields_to_try
from tests import builders
from tests.builders import TODAY, noon
from tests.conftest import NOW, ShopPeople

from .conftest import DOORS, a_trial, open_job

BLADE: dict[str, Any] = {"field": "blade_fresh", "usual_value": "yes", "other_value": "no"}
REST: dict[str, Any] = {"field": "dwell_h", "usual_value": "24", "other_value": "36", "unit": "jobs"}


def by(people: ShopPeople) -> dict[str, Any]:
    return {"actor": Actor.of(people.installer), "now": NOW}


def draw(trial: Trial, job: Job, people: ShopPeople) -> list[Draw]:
    return actions.draw(trial=trial, job=job, **by(people))


def handed_over(job: Job, days_ago: int) -> None:
    on = builders.days_ago(days_ago)
    PanelWork.objects.filter(job=job).update(finished_at=noon(on))
    Job.objects.filter(pk=job.pk).update(state="handed_over", handed_over_on=on, handed_over_at=noon(on))


def look(job: Job, *, failing: bool, day: int, laid_days_ago: int) -> None:
    """Every place looked at; one edge has failed, or none."""
    visit = builders.a_visit(job, TODAY - timedelta(days=laid_days_ago - day), finished=False)
    for number, place in enumerate(builders.places_of(job)):
        if failing and number == 0:
            builders.a_defect(visit, place, severity=3)
        else:
            builders.a_finding(visit, place)
    type(visit).objects.filter(pk=visit.pk).update(state="finished", finished_at=noon(TODAY))


def test_every_technique_field_can_be_tried_and_those_of_the_shop_too(ours: ShopPeople) -> None:
    ShopField.objects.create(
        key="gel", name="Slip gel", level="panel", kind="choice", choices=["thin", "thick"]
    )
    found = fields_to_try()
    assert {"post_heated", "blade_kind", "laid", "wrap_in_wanted_mm", "dwell_h", "washed"} <= set(found)
    assert found["own:gel"].words == field_of("own:gel").words == "Slip gel"


def test_panels_are_drawn_left_against_right_and_done_as_drawn_states_the_panels_value(
    ours: ShopPeople,
) -> None:
    rows = draw(a_trial(ours, **BLADE), open_job(), ours)
    assert {row.panel for row in rows} == set(DOORS)
    assert {row.arm for row in rows} == {"usual", "other"}
    for row in rows:
        doing.say_done_as_drawn(draw=row, **by(ours))
    for row in rows:
        work = PanelWork.objects.get(job=row.job, panel=row.panel)
        assert work.blade_fresh is (row.arm == "usual")
        assert work.blade_fresh_basis == "stated"


def test_a_panel_with_a_stated_blade_is_too_late_for_a_draw(ours: ShopPeople) -> None:
    trial, job = a_trial(ours, **BLADE), open_job()
    PanelWork.objects.filter(job=job, panel=DOORS[0]).update(blade_fresh=True, blade_fresh_basis="stated")
    assert pairs_on([job], trial) == {}


def test_a_pair_of_panels_is_settled_by_any_of_their_places(ours: ShopPeople) -> None:
    trial, job = a_trial(ours, **BLADE), open_job()
    rows = draw(trial, job, ours)
    handed_over(job, 20)
    visit = builders.a_visit(job, TODAY, finished=False)
    failing = next(row.panel for row in rows if row.arm == "other")
    for place in builders.places_of(job):
        if place.piece.panel_work.panel == failing and place.kind == "edge":
            builders.a_defect(visit, place, severity=3)
        else:
            builders.a_finding(visit, place)
    type(visit).objects.filter(pk=visit.pk).update(state="finished", finished_at=noon(TODAY))
    answer = results_of(trial, TODAY).as_drawn
    assert (answer.standing.counts.other, answer.standing.counts.usual) == (1, 0)


def test_jobs_are_drawn_two_of_four_and_each_once(ours: ShopPeople) -> None:
    trial = a_trial(ours, **REST)
    jobs = [open_job() for _ in range(4)]
    arms = [draw(trial, job, ours)[0].arm for job in jobs]
    assert sorted(arms) == ["other", "other", "usual", "usual"]
    assert [arm == "other" for arm in arms] == [job_gets_other(trial.seed, n) for n in (1, 2, 3, 4)]
    with pytest.raises(NoPairHere):
        draw(trial, jobs[0], ours)


def test_a_job_done_as_drawn_states_the_value_of_the_job(ours: ShopPeople) -> None:
    trial, job = a_trial(ours, **REST), open_job()
    (row,) = draw(trial, job, ours)
    doing.say_done_as_drawn(draw=row, **by(ours))
    job.refresh_from_db()
    assert job.dwell_h == (36 if row.arm == "other" else 24)


def test_a_field_of_places_can_be_tried_on_whole_jobs(ours: ShopPeople) -> None:
    trial, job = a_trial(ours, unit="jobs"), open_job()
    (row,) = draw(trial, job, ours)
    doing.say_done_otherwise(draw=row, why="Gun was cold", **by(ours))
    heated = set(
        Place.objects.filter(piece__panel_work__job=job, kind="edge").values_list("post_heated", flat=True)
    )
    assert heated == {row.arm == "other"}


def test_a_field_of_the_shops_own_is_stated_as_its_own_value(ours: ShopPeople) -> None:
    ShopField.objects.create(
        key="gel", name="Slip gel", level="panel", kind="choice", choices=["thin", "thick"]
    )
    trial = a_trial(ours, field="own:gel", usual_value="thin", other_value="thick")
    rows = draw(trial, open_job(), ours)
    for row in rows:
        doing.say_done_as_drawn(draw=row, **by(ours))
    said = {value.panel_work.panel: value.value for value in FieldValue.objects.select_related("panel_work")}  # type: ignore[union-attr]
    assert said == {row.panel: "thick" if row.arm == "other" else "thin" for row in rows}
    changed = actions.changed({}, trial)
    assert changed == {"panels": {"front-door": {"panel": {"gel": "thick"}}}}


def test_a_panel_or_job_is_not_split_into_places(ours: ShopPeople) -> None:
    with pytest.raises(WrongUnit):
        a_trial(ours, **BLADE, unit="places")
    with pytest.raises(WrongUnit):
        a_trial(ours, **{**REST, "unit": "sides"})


def test_blocks_of_jobs_count_when_they_are_closed_and_their_file_reads_back(ours: ShopPeople) -> None:
    trial = a_trial(ours, **REST)
    for _ in range(4):
        job = open_job()
        (row,) = draw(trial, job, ours)
        doing.say_done_as_drawn(draw=row, **by(ours))
        handed_over(job, 100)
        look(job, failing=row.arm == "other", day=95, laid_days_ago=100)
    found = results_of(trial, TODAY)
    assert isinstance(found.as_drawn, JobsAnswer)
    assert found.as_drawn.settled == 4
    assert (found.as_drawn.standing.counts.other, found.as_drawn.standing.counts.usual) == (2, 0)
    assert isinstance(found.as_done, JobsDone)
    assert (found.as_done.other, found.as_done.usual, found.as_done.failed.other) == (2, 2, 2)
    assert read_file(write_file(found.file)) == found.file
    assert pool([found.file]).together.standing == found.as_drawn.standing
    assert results_of(trial, TODAY - timedelta(days=99)).halves == 4


def test_a_job_that_nobody_saw_again_closes_after_its_last_day(ours: ShopPeople) -> None:
    trial, job = a_trial(ours, **REST), open_job()
    draw(trial, job, ours)
    handed_over(job, 20)
    (unit,) = results_of(trial, TODAY).file.jobs
    assert unit.at is None
    (unit,) = results_of(trial, TODAY + timedelta(days=200)).file.jobs
    assert (unit.last_clean, unit.at is None) == (0.0, False)


def test_done_neither_way_counts_as_drawn_and_not_as_done(ours: ShopPeople) -> None:
    trial, job = a_trial(ours, panels=("front-door",)), open_job()
    rows = draw(trial, job, ours)
    for row in rows:
        doing.say_done_as_neither(draw=row, why="Edge was sealed instead", **by(ours))
    assert not Deviation.objects.exists()
    assert not Place.objects.exclude(post_heated=None).exists()
    handed_over(job, 20)
    look(job, failing=True, day=20, laid_days_ago=20)
    found = results_of(trial, TODAY)
    assert found.neither == found.halves == len(rows)
    assert found.as_drawn.settled > 0
    assert isinstance(found.as_done, Answer)
    assert found.as_done.pairs == 0


def test_left_as_it_is_to_learn_is_offered_inside_a_trial_only(ours: ShopPeople) -> None:
    """Outside, no page offers it, and the reason is not taken when it is sent all the same."""
    client, slug = ours.client(ours.installer), ours.shop.slug
    trial, inside, outside = a_trial(ours), open_job(), open_job()
    rows = draw(trial, inside, ours)
    left = next(row for row in rows if row.arm == "other")
    assert left.place is not None
    offered = client.get(reverse("panel", args=[slug, left.place.piece.panel_work_id])).content.decode()
    assert "Left as it is, to learn" in offered
    place = builders.places_of(outside, DOORS[0])[0]
    page = reverse("panel", args=[slug, place.piece.panel_work_id])
    plain = client.get(f"{page}?place={place.pk}").content.decode()
    assert "to learn" not in plain and "part of a trial" not in plain.lower()
    url = reverse("place", args=[slug, place.pk])
    client.post(url, {"primer": "yes", "quick": "trial"})
    assert Deviation.objects.get(place=place).reason == ""


@pytest.mark.parametrize(
    ("more", "wrong"),
    [
        ({"field": "blade_fresh", "unit": "places"}, "unit"),
        ({"field": "dwell_h", "usual_value": "24", "other_value": "12", "unit": "sides"}, "unit"),
        (
            {"field": "wrap_in_wanted_mm", "usual_value": "8", "other_value": "6", "place_kinds": ["recess"]},
            "place_kinds",
        ),
        ({"field": "post_heat_c", "usual_value": "warm", "other_value": "90"}, "usual_value"),
        ({"field": "squeegee", "usual_value": "spoon", "other_value": "soft", "unit": "jobs"}, "usual_value"),
    ],
)
def test_what_cannot_be_compared_is_refused_at_its_field(ours: ShopPeople, more: Any, wrong: str) -> None:
    form = QuestionForm({**TYPED, **more}, shop=ours.shop)
    assert wrong in form.errors


TYPED: dict[str, Any] = {
    "words": "Does it hold?",
    "field": "post_heated",
    "usual_value": "yes",
    "other_value": "no",
    "unit": "sides",
    "place_kinds": ["edge"],
    "by_day": 90,
    "ratio": "2",
}


def test_a_shop_that_thinks_in_inches_and_fahrenheit_types_them(ours: ShopPeople) -> None:
    """1 in = 25.4 mm by definition; 212 F is 100 C."""
    ours.shop.units = "us"
    heat = {"field": "post_heat_c", "usual_value": "212", "other_value": "95 C"}
    form = QuestionForm({**TYPED, **heat}, shop=ours.shop)
    assert form.is_valid(), form.errors
    assert (form.question().usual_value, form.question().other_value) == ("100", "95")
    wrap = {"field": "wrap_in_wanted_mm", "usual_value": "0.5", "other_value": "6 mm"}
    form = QuestionForm({**TYPED, **wrap}, shop=ours.shop)
    assert form.is_valid(), form.errors
    assert (form.question().usual_value, form.question().other_value) == ("12.7", "6")


@pytest.mark.parametrize(("unit", "level"), [("jobs", "job"), ("sides", "panel")])
def test_without_a_failure_of_such_jobs_or_panels_nobody_will_know(
    ours: ShopPeople, unit: str, level: Any
) -> None:
    plan = forecast(Asked(unit, level, ("edge",), (), 90, 2.0), TODAY)
    assert plan.outlook.months is None
