"""Places of trials are in the ordinary review, labelled, and can be left out; what was learnt is watched."""

from math import inf
from typing import Any

import pytest
from django.urls import reverse

from shopwarranty.analysis.proportions import Interval
from shopwarranty.defects.lives import rebuild_lives
from shopwarranty.defects.models import Life
from shopwarranty.jobs.actions import add_usual_method
from shopwarranty.jobs.models import Photo
from shopwarranty.review.selection import Selection
from shopwarranty.shops.history import Actor
from shopwarranty.trials import actions
from shopwarranty.trials.drawn_places import lives_in_trials, trials_of
from shopwarranty.trials.models import Draw, Trial
from shopwarranty.trials.words import figure, interval_words, p_words
from tests import builders
from tests.conftest import NOW, ShopPeople

from .conftest import a_trial, open_job
from .test_results import drawn_job, look


def review_of(people: ShopPeople, **asked: str) -> Any:
    url = reverse("review", args=[people.shop.slug])
    return people.client(people.owner).get(url, asked)


def test_places_of_trials_are_included_and_the_page_says_so_until_they_are_left_out(
    ours: ShopPeople, trial: Trial
) -> None:
    look(drawn_job(trial, ours), trial, "other")
    builders.a_finding(builders.a_visit(job := builders.a_job()), builders.places_of(job)[0])
    rebuild_lives()
    drawn = set(Draw.objects.values_list("place_id", flat=True))
    assert set(Life.objects.filter(pk__in=lives_in_trials()).values_list("place_id", flat=True)) == drawn
    whole, without = review_of(ours), review_of(ours, trials="out")
    assert b"Places of trials are in these figures" in whole.content
    assert b"Places of trials are in these figures" not in without.content
    assert without.context["exploring"]
    rows, fewer = (len(page.context["page"].found.asked.rows) for page in (whole, without))
    assert rows - fewer == len(lives_in_trials()) == len(drawn)


def test_without_a_trial_there_is_no_switch(ours: ShopPeople) -> None:
    builders.a_finding(builders.a_visit(job := builders.a_job()), builders.places_of(job)[0])
    rebuild_lives()
    assert b"Places of trials" not in review_of(ours).content


def test_where_places_are_listed_those_of_trials_are_labelled(ours: ShopPeople, trial: Trial) -> None:
    look(drawn_job(trial, ours), trial, "other")
    rebuild_lives()
    url = reverse("review-places", args=[ours.shop.slug])
    answer = ours.client(ours.desk).get(url, {"what": "failed"})
    assert answer.context["lines"]
    assert all(line.trials[0].words == f"Trial {trial.number}" for line in answer.context["lines"])


@pytest.mark.parametrize(
    "more",
    [
        {"unit": "jobs"},
        {"field": "blade_fresh", "usual_value": "yes", "other_value": "no"},
    ],
)
def test_panels_and_jobs_that_were_drawn_bring_their_places(ours: ShopPeople, more: Any) -> None:
    trial, job = a_trial(ours, **more), open_job()
    actions.draw(trial=trial, job=job, actor=Actor.of(ours.owner), now=NOW)
    edges = {place.pk for place in builders.places_of(job) if place.kind == "edge"}
    assert set(trials_of()) == edges
    one = min(edges)
    assert list(trials_of([one])) == [one]


def test_a_selection_without_trials_is_another_address_but_not_another_family() -> None:
    chosen = Selection("clear-protective", without_trials=True, trial_lives=frozenset({1}))
    assert chosen.query() == {"family": "clear-protective", "trials": "out"}
    assert chosen.exploring
    assert not chosen.everything.exploring


def photo_of(draw: Draw, people: ShopPeople) -> Photo:
    made: Photo = Photo.objects.create(
        vehicle=draw.job.vehicle,
        job=draw.job,
        panel_work=draw.place.piece.panel_work if draw.place else None,
        place=draw.place,
        stage="check",
        sha256=f"{draw.pk:064x}",
        original_sha256=f"{draw.pk:064x}",
        length=1,
        width=40,
        height=30,
        added_at=NOW,
        added_by=people.installer,
    )
    return made


def test_both_halves_lie_side_by_side_and_the_arm_is_said_only_when_asked_for(
    ours: ShopPeople, trial: Trial
) -> None:
    rows = actions.draw(trial=trial, job=open_job(), actor=Actor.of(ours.owner), now=NOW)
    halves = [row for row in rows if row.pair == 1]
    photos = [photo_of(row, ours) for row in halves]
    client, url = ours.client(ours.desk), reverse("trial-pair", args=[ours.shop.slug, trial.pk, 1])
    blind = client.get(url)
    (day,) = blind.context["days"]
    assert [len(found) for _side, found in day.sides] == [1, 1]
    assert {photo.pk for _side, found in day.sides for photo in found} == {photo.pk for photo in photos}
    assert b"ost-heated" not in blind.content
    assert b"ot post-heated" in client.get(url, {"arms": "1"}).content
    assert client.get(reverse("trial-pair", args=[ours.shop.slug, trial.pk, 99])).status_code == 404


def test_the_job_says_that_it_was_drawn_and_takes_the_answer(ours: ShopPeople) -> None:
    trial, job = a_trial(ours, field="dwell_h", usual_value="24", other_value="36", unit="jobs"), open_job()
    (row,) = actions.draw(trial=trial, job=job, actor=Actor.of(ours.owner), now=NOW)
    client, slug = ours.client(ours.installer), ours.shop.slug
    for page in (reverse("job", args=[slug, job.pk]), reverse("panel", args=[slug, job.panels.all()[0].pk])):
        assert f"Trial {trial.number}, job 1" in client.get(page).content.decode()
    answer = client.post(
        reverse("draw-done", args=[slug, row.pk]), {"did": "neither", "why": "Fetched early"}
    )
    assert answer["Location"] == reverse("job", args=[slug, job.pk])
    row.refresh_from_db()
    assert (row.done_as, row.done_why) == ("neither", "Fetched early")


def test_what_was_learnt_is_a_version_in_one_step_that_before_and_after_watches(
    ours: ShopPeople, trial: Trial
) -> None:
    version = add_usual_method(actor=Actor.of(ours.owner), now=NOW)
    client, slug = ours.client(ours.owner), ours.shop.slug
    url = reverse("trial-adopt", args=[slug, trial.pk])
    page = client.post(url, {"method": version.method_id}, follow=True)
    (learnt,) = page.context["learnt"]
    assert learnt.url == reverse("method-version", args=[slug, version.method.versions.latest("number").pk])
    look(drawn_job(trial, ours), trial, "other")
    rebuild_lives()
    watched = client.get(learnt.watched_url)
    assert watched.status_code == 200
    assert watched.context["change"].recorded


def test_figures_are_said_as_people_read_them() -> None:
    assert [p_words(p) for p in (0.0000004, 0.0123, 0.456, 1.0)] == [
        "less than 0.001",
        "0.012",
        "0.46",
        "1.00",
    ]
    assert [figure(x) for x in (0.0712, 3.81, 171.3)] == ["0.071", "3.8", "171"]
    assert interval_words(Interval(0.0, inf)) == "nothing is ruled out yet"
    assert interval_words(Interval(0.6, inf)) == "at least 0.6"
