"""The draw: balanced, from the seed, before laying, never again, and never at a customer's cost."""

from typing import Any

import pytest
from django.db import DatabaseError, transaction

from shopwarranty.analysis.trial_draw import other_comes_first
from shopwarranty.jobs.models import Deviation, Place
from shopwarranty.shops.history import Actor
from shopwarranty.trade.technique import BY_KEY
from shopwarranty.trials import actions, doing
from shopwarranty.trials.careful import plainly_less_careful
from shopwarranty.trials.models import Draw, Trial
from shopwarranty.trials.pairs import pairs_on
from shopwarranty.trials.refusals import (
    AlreadySaid,
    BurdensCustomer,
    NoPairHere,
    NotAHolder,
    NotRunning,
    SameArms,
)
from tests import builders
from tests.conftest import NOW, ShopPeople

from .conftest import a_trial, open_job

pytestmark = pytest.mark.postgres


def draw(trial: Trial, job: object, people: ShopPeople) -> list[Draw]:
    return actions.draw(trial=trial, job=job, actor=Actor.of(people.installer), now=NOW)  # type: ignore[arg-type]


def test_every_pair_has_one_half_of_each_arm_left_against_right(trial: Trial, ours: ShopPeople) -> None:
    job = open_job()
    edges = Place.objects.filter(piece__panel_work__panel="left-front-door", kind="edge").count()
    rows = draw(trial, job, ours)
    assert len(rows) == 2 * edges > 2
    for pair in range(1, edges + 1):
        halves = [row for row in rows if row.pair == pair]
        assert {half.arm for half in halves} == {"usual", "other"}
        assert {half.panel for half in halves} == {"left-front-door", "right-front-door"}
        assert len({half.place_key for half in halves}) == 1


def test_which_half_gets_what_follows_from_the_seed_alone(trial: Trial, ours: ShopPeople) -> None:
    for row in draw(trial, open_job(), ours):
        if row.panel == "left-front-door":
            assert (row.arm == "other") == other_comes_first(trial.seed, row.pair)


def test_nothing_is_drawn_twice_and_the_next_job_goes_on_counting(trial: Trial, ours: ShopPeople) -> None:
    first = draw(trial, open_job(), ours)
    with pytest.raises(NoPairHere):
        draw(trial, first[0].job, ours)
    second = draw(trial, open_job(), ours)
    assert min(row.pair for row in second) == max(row.pair for row in first) + 1


def test_a_draw_cannot_be_changed_or_deleted_in_the_database(trial: Trial, ours: ShopPeople) -> None:
    row = draw(trial, open_job(), ours)[0]
    with pytest.raises(DatabaseError), transaction.atomic():
        Draw.objects.filter(pk=row.pk).update(arm="other" if row.arm == "usual" else "usual")
    with pytest.raises(DatabaseError), transaction.atomic():
        Draw.objects.filter(pk=row.pk).delete()
    with pytest.raises(DatabaseError), transaction.atomic():
        Trial.objects.filter(pk=trial.pk).update(seed=8)


def test_finished_confirmed_or_stated_places_are_too_late_for_a_draw(trial: Trial, ours: ShopPeople) -> None:
    job = open_job()
    place = builders.places_of(job, "left-front-door")[0]
    before = len(pairs_on([job], trial)[job.pk])
    Place.objects.filter(pk=place.pk).update(post_heated=True, post_heated_basis="stated")
    assert len(pairs_on([job], trial)[job.pk]) == before - 1
    job.panels.filter(panel="right-front-door").update(finished_at=NOW)
    assert pairs_on([job], trial) == {}


def test_a_less_careful_arm_is_not_drawn_on_a_customers_vehicle(trial: Trial, ours: ShopPeople) -> None:
    job = open_job(owned="customer", holder=True)
    with pytest.raises(BurdensCustomer):
        draw(trial, job, ours)
    assert not Draw.objects.exists()


def test_with_the_present_holders_consent_it_is(trial: Trial, ours: ShopPeople) -> None:
    job = open_job(owned="customer", holder=True)
    holder = job.vehicle.holdings.get().party
    by: dict[str, Any] = {"trial": trial, "vehicle": job.vehicle, "actor": Actor.of(ours.desk), "now": NOW}
    with pytest.raises(NotAHolder):
        actions.record_consent(party=builders.a_holder("Somebody Else"), words="Yes", **by)
    consent = actions.record_consent(party=holder, words="Yes, with full cover", **by)
    assert draw(trial, job, ours)
    consent.withdrawn_at = NOW
    consent.save()
    assert actions.burdened(trial, [job.vehicle]) == {job.vehicle_id}


def test_a_former_holders_consent_does_not_bind_the_next_one(trial: Trial, ours: ShopPeople) -> None:
    job = open_job(owned="customer", holder=True)
    holding = job.vehicle.holdings.get()
    by: dict[str, Any] = {"trial": trial, "vehicle": job.vehicle, "actor": Actor.of(ours.desk), "now": NOW}
    actions.record_consent(party=holding.party, words="Yes", **by)
    holding.until = builders.TODAY
    holding.save()
    with pytest.raises(BurdensCustomer):
        draw(trial, job, ours)


def test_test_panels_and_own_vehicles_need_nobodys_consent(trial: Trial, ours: ShopPeople) -> None:
    assert draw(trial, open_job(owned="panel"), ours)
    assert draw(trial, open_job(owned="shop"), ours)


def test_leaving_a_step_out_is_less_careful_whatever_was_said(trial: Trial, ours: ShopPeople) -> None:
    assert trial.less_careful
    heated, passes, short = (BY_KEY[key] for key in ("post_heated", "passes", "left_short"))
    assert not plainly_less_careful(heated, False, True)
    assert plainly_less_careful(passes, 2, 1)
    assert not plainly_less_careful(passes, 1, 2)
    assert plainly_less_careful(short, False, True)


def test_two_alike_arms_are_no_trial(ours: ShopPeople) -> None:
    with pytest.raises(SameArms):
        a_trial(ours, other_value="yes")


def test_a_stopped_trial_draws_nothing_more(trial: Trial, ours: ShopPeople) -> None:
    actions.stop_trial(trial=trial, state="stopped", why="No time", actor=Actor.of(ours.owner), now=NOW)
    with pytest.raises(NotRunning):
        draw(trial, open_job(), ours)


def test_what_was_done_is_recorded_beside_the_draw_once(trial: Trial, ours: ShopPeople) -> None:
    rows = draw(trial, open_job(), ours)
    other = next(row for row in rows if row.arm == "other")
    usual = next(row for row in rows if row.arm == "usual")
    by: dict[str, Any] = {"actor": Actor.of(ours.installer), "now": NOW}
    doing.say_done_as_drawn(draw=other, **by)
    doing.say_done_otherwise(draw=usual, why="Gun was cold", **by)
    for row in (other, usual):
        row.refresh_from_db()
        assert row.place is not None
        row.place.refresh_from_db()
        assert row.place.post_heated is False
    assert (other.done_as, usual.done_as, usual.done_why) == ("drawn", "other", "Gun was cold")
    assert set(Deviation.objects.values_list("reason", flat=True)) <= {"trial"}
    with pytest.raises(AlreadySaid):
        doing.say_done_as_drawn(draw=other, **by)


def test_alternate_places_of_one_panel_make_pairs_too(ours: ShopPeople) -> None:
    rows = draw(a_trial(ours, unit="places"), open_job(), ours)
    for pair in {row.pair for row in rows}:
        halves = [row for row in rows if row.pair == pair]
        assert len({half.panel for half in halves}) == 1
        assert len({half.place_key for half in halves}) == 2
