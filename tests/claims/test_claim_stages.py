"""A claim goes through its stages in order, whoever does what how often. ISO 10002, restated."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shopwarranty.claims import actions, refusals
from shopwarranty.claims.actions import Reported
from shopwarranty.claims.actions.deciding import Said
from shopwarranty.claims.case import items_of
from shopwarranty.claims.models import Claim, Decision, Letter
from shopwarranty.claims.stages import BEFORE
from shopwarranty.defects.actions import record_remedy
from shopwarranty.defects.models import Defect
from shopwarranty.outbox.models import Message
from shopwarranty.shops.models import Change
from tests.claims.conftest import LATER, Bench

ACTS = ("acknowledge", "assess", "accept", "refuse", "tell", "repair", "remedied", "close", "reopen")


def act(bench: Bench, claim: Claim, name: str, now: Any) -> None:
    """One act of the desk or the owner, as a person would try it."""
    by: dict[str, Any] = {"claim": claim, "actor": bench.desk, "now": now}
    acts: dict[str, Callable[[], object]] = {
        "acknowledge": lambda: actions.acknowledge(how="told", **by),
        "assess": lambda: actions.assess(is_safety=None, is_spreading=None, note="", **by),
        "accept": lambda: bench.decide(items_of(claim)[0], "accept", line_id=bench.edge_line, now=now),
        "refuse": lambda: bench.decide(items_of(claim)[0], "refuse", ground="no such ground", now=now),
        "tell": lambda: actions.tell(**by),
        "repair": lambda: repair(bench, now),
        "remedied": lambda: actions.mark_remedied(**by),
        "close": lambda: actions.close(holder_said="content", **by),
        "reopen": lambda: actions.reopen(why="sees it differently", **by),
    }
    acts[name]()


def repair(bench: Bench, now: Any) -> None:
    for defect in Defect.objects.filter(state="open"):
        record_remedy(
            defect=defect,
            kind="reheat",
            done_on=now.astimezone(defect.shop.zone).date(),
            actor=bench.desk,
            now=now,
        )


@settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(names=st.lists(st.sampled_from(ACTS), min_size=4, max_size=14))
def test_whatever_is_tried_in_whatever_order_the_stages_hold(
    bench: Bench, monkeypatch: pytest.MonkeyPatch, names: list[str]
) -> None:
    monkeypatch.setattr(
        "shopwarranty.claims.actions.telling.letter_pdf", lambda claim, text: b"%PDF-1.7 short"
    )
    with transaction.atomic():
        claim = bench.received()
        for nth, name in enumerate(names):
            tried(bench, claim, name, LATER + timedelta(hours=nth + 1))
        stages_hold(claim)
        transaction.set_rollback(True)


def tried(bench: Bench, claim: Claim, name: str, now: Any) -> None:
    """An act out of order is refused by name and writes nothing."""
    before = (
        Change.objects.count(),
        Decision.objects.count(),
        Letter.objects.count(),
        Message.objects.count(),
    )
    claim.refresh_from_db()
    state = claim.state
    try:
        with transaction.atomic():
            act(bench, claim, name, now)
    except refusals.ClaimRefusal:
        after = (
            Change.objects.count(),
            Decision.objects.count(),
            Letter.objects.count(),
            Message.objects.count(),
        )
        claim.refresh_from_db()
        assert (after, claim.state) == (before, state), name


def stages_hold(claim: Claim) -> None:
    """Every change of state goes where the stages lead; nothing was refused without a ground."""
    moves = Change.objects.filter(table="claims_claim", row=claim.pk, after__has_key="state").order_by(
        "at", "pk"
    )
    was = "received"
    for change in moves:
        assert change.before["state"] == was
        assert was in BEFORE[change.after["state"]]
        was = change.after["state"]
    claim.refresh_from_db()
    assert claim.state == was
    assert not Decision.objects.filter(answer="refuse").exists()
    if claim.state in ("told", "remedied", "closed"):
        assert Letter.objects.filter(claim=claim, about="decision").exists()
    if claim.state == "closed":
        assert claim.holder_said


def whole(bench: Bench) -> Claim:
    claim = bench.claim()
    bench.decide(items_of(claim)[0], "accept", line_id=bench.edge_line)
    actions.tell(claim=claim, actor=bench.desk, now=LATER)
    return claim


def test_it_is_not_closed_before_what_was_accepted_is_put_right_and_the_holder_asked(bench: Bench) -> None:
    claim = whole(bench)
    with pytest.raises(refusals.NotPutRight):
        actions.mark_remedied(claim=claim, actor=bench.desk, now=LATER)
    with pytest.raises(refusals.NotAtThisStage):
        actions.close(claim=claim, holder_said="content", actor=bench.desk, now=LATER)
    act(bench, claim, "repair", LATER)
    actions.mark_remedied(claim=claim, actor=bench.desk, now=LATER)
    with pytest.raises(refusals.HolderNotAsked):
        actions.close(claim=claim, holder_said=" ", actor=bench.desk, now=LATER)
    actions.close(claim=claim, holder_said="content", actor=bench.desk, now=LATER)
    claim.refresh_from_db()
    assert (claim.state, claim.holder_said, claim.due_on) == ("closed", "content", None)


def test_opened_again_it_is_decided_anew_and_what_was_decided_stays(bench: Bench) -> None:
    claim = whole(bench)
    later = LATER + timedelta(days=1)
    actions.reopen(claim=claim, why="brought a report", actor=bench.desk, now=later)
    actions.assess(claim=claim, is_safety=None, is_spreading=None, note="", actor=bench.desk, now=later)
    with pytest.raises(refusals.NotAtThisStage):
        actions.tell(claim=claim, actor=bench.desk, now=later)
    bench.decide(items_of(claim)[0], "goodwill", now=later)
    actions.tell(claim=claim, actor=bench.desk, now=later)
    assert list(Decision.objects.order_by("pk").values_list("answer", flat=True)) == ["accept", "goodwill"]
    assert Letter.objects.filter(about="decision").count() == 2
    assert Message.objects.filter(key__contains=":decision:").count() == 2


def test_told_twice_at_once_it_is_told_once(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """The second one drew the letter before the first had written."""
    claim = bench.claim()
    bench.decide(items_of(claim)[0], "accept", line_id=bench.edge_line)

    def overtaken(row: Claim, text: Any) -> bytes:
        monkeypatch.undo()
        actions.tell(claim=Claim.objects.get(pk=row.pk), actor=bench.desk, now=LATER)
        return b"%PDF-1.7 late"

    monkeypatch.setattr("shopwarranty.claims.actions.telling.letter_pdf", overtaken)
    with pytest.raises(refusals.NotAtThisStage):
        actions.tell(claim=claim, actor=bench.desk, now=LATER)
    assert Letter.objects.filter(about="decision").count() == 1


@pytest.mark.postgres
def test_decisions_letters_facts_and_the_report_never_change(bench: Bench) -> None:
    whole(bench)
    changes = (
        (Decision, {"reason": "otherwise"}),
        (Letter, {"text": "otherwise"}),
        (Claim, {"words": "otherwise"}),
        (Claim, {"received_at": LATER + timedelta(days=1)}),
    )
    for model, change in changes:
        with pytest.raises(IntegrityError), transaction.atomic():
            model.objects.update(**change)


@pytest.mark.postgres
def test_the_database_too_refuses_a_refusal_without_clause_and_fact(bench: Bench) -> None:
    item = items_of(bench.claim())[0]
    with pytest.raises(IntegrityError), transaction.atomic():
        Decision.objects.create(
            item=item, answer="refuse", reason="x", decided_by=bench.people.owner, decided_at=LATER
        )


def test_nothing_is_decided_while_a_thing_is_only_received(bench: Bench) -> None:
    claim = bench.received(Reported("It lifts", place=bench.edge()))
    with pytest.raises(refusals.NotAtThisStage):
        bench.decide(items_of(claim)[0], "accept", line_id=bench.edge_line)
    with pytest.raises(refusals.NotAtThisStage):
        actions.propose(item=items_of(claim)[0], said=Said("goodwill", "x"), actor=bench.desk, now=LATER)
