"""The loop closed: FR-09 to FR-12, FR-15, QM-08 of the list (MIL-HDBK-2155, ISO 9001, restated)."""

from datetime import date, timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shopwarranty.defects.actions import corrective, judge_cause
from shopwarranty.defects.actions.refusals import DefectRefusal
from shopwarranty.defects.corrective_list import unanswered
from shopwarranty.defects.models import CorrectiveAction, Defect
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Change
from tests import builders
from tests.conftest import NOW, ShopPeople

TODAY = date(2026, 11, 25)
ACTS = ("use", "look", "close", "drop", "reopen")


@pytest.fixture
def actor(ours: ShopPeople) -> Actor:
    return Actor.of(ours.owner)


@pytest.fixture
def action(ours: ShopPeople, actor: Actor) -> CorrectiveAction:
    return corrective.set_action(
        text="Heat every handle recess by itself.", owner=ours.installer, due_on=TODAY, actor=actor, now=NOW
    )


def act(action: CorrectiveAction, name: str, actor: Actor) -> None:
    by: dict[str, Any] = {"action": action, "actor": actor, "now": NOW}
    if name == "use":
        corrective.put_in_use(effective_from=TODAY, **by)
    elif name == "look":
        corrective.look_at_effect(words="Too few to say.", figures={"failed_since": 0}, **by)
    elif name == "close":
        corrective.close_action(**by)
    elif name == "drop":
        corrective.drop_action(why="no way to heat there", **by)
    else:
        corrective.reopen_action(why="it came back", **by)


def test_it_cannot_be_closed_before_its_effect_was_looked_at(action: CorrectiveAction, actor: Actor) -> None:
    for name in ("close", "look"):
        with pytest.raises(corrective.ActionElsewhere):
            act(action, name, actor)
    act(action, "use", actor)
    with pytest.raises(corrective.ActionElsewhere):
        act(action, "close", actor)
    act(action, "look", actor)
    act(action, "close", actor)
    assert (action.state, action.effect_words, action.effect_checked_by_id) == (
        "closed", "Too few to say.", actor.member.pk if actor.member else 0,
    )  # fmt: skip


@pytest.mark.postgres
def test_the_database_too_refuses_a_close_without_a_look(action: CorrectiveAction) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        CorrectiveAction.objects.update(state="closed")


def test_nothing_is_done_only_with_a_reason_and_reopening_keeps_what_was_written(
    action: CorrectiveAction, actor: Actor
) -> None:
    with pytest.raises(corrective.WordsMissing):
        corrective.drop_action(action=action, why=" ", actor=actor, now=NOW)
    for name in ("use", "look", "close", "reopen"):
        act(action, name, actor)
    assert (action.state, action.effect_words) == ("in_use", "")
    kept = Change.objects.filter(act="checked").get()
    assert kept.after["effect_words"] == "Too few to say."


def test_it_does_not_count_from_a_day_to_come(action: CorrectiveAction, actor: Actor) -> None:
    with pytest.raises(corrective.NotInUseYet):
        corrective.put_in_use(action=action, effective_from=TODAY + timedelta(days=1), actor=actor, now=NOW)


@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(names=st.lists(st.sampled_from(ACTS), max_size=8))
def test_whatever_is_tried_a_closed_one_has_been_looked_at_since_it_is_in_use(
    action: CorrectiveAction, actor: Actor, names: list[str]
) -> None:
    with transaction.atomic():
        for name in names:
            before = (action.state, Change.objects.count())
            try:
                act(action, name, actor)
            except DefectRefusal:
                action.refresh_from_db()
                assert (action.state, Change.objects.count()) == before
        action.refresh_from_db()
        if action.state == "closed":
            assert action.effect_words
            assert action.effective_from
        transaction.set_rollback(True)
    action.refresh_from_db()


def test_a_defect_without_cause_and_action_waits_in_the_list_until_it_has_one(
    ours: ShopPeople, actor: Actor
) -> None:
    job = builders.a_job(handed_over_on=builders.days_ago(20))
    places = builders.places_of(job)
    visit = builders.a_visit(job)
    one, two = (builders.a_defect(visit, place) for place in places[:2])
    assert set(unanswered()) == {one, two}
    judge_cause(defect=one, cause="unknown", sure="certain", actor=actor, now=NOW)
    corrective.set_action(text="Wipe twice.", owner=ours.owner, defects=[two], actor=actor, now=NOW)
    assert not unanswered().exists()
    assert Defect.objects.get(pk=one.pk).cause == "unknown"


def test_by_its_pages_it_is_set_used_looked_at_and_closed(
    ours: ShopPeople, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)
    defect = builders.a_defect(
        builders.a_visit(job := builders.a_job(handed_over_on=builders.days_ago(20))),
        builders.places_of(job)[0],
    )
    client = ours.client(ours.owner)

    def url(name: str, *pks: int) -> str:
        return reverse(name, args=["kiln", *pks])

    said = {"text": "Heat twice.", "owner": ours.installer.pk, "defect": defect.pk}
    client.post(url("new-action"), said)
    row = CorrectiveAction.objects.get()
    assert [link.defect for link in row.defects.all()] == [defect]
    client.post(url("action-close", row.pk))
    client.post(url("action-in-use", row.pk), {"effective_from": "2026-11-20"})
    assert "until then it cannot be closed" in client.get(url("corrective-action", row.pk)).content.decode()
    client.post(url("action-effect", row.pk), {"words": "Fewer, by the review."})
    client.post(url("action-close", row.pk))
    row.refresh_from_db()
    assert (row.state, set(row.effect_figures)) == (
        "closed", {"failed_before", "watched_before", "failed_since", "watched_since"},
    )  # fmt: skip
    assert "Heat twice." in client.get(url("corrective-actions"), {"show": "closed"}).content.decode()
    assert ours.client(ours.desk).post(url("action-reopen", row.pk), {"why": "x"}).status_code == 403
