"""How long a claim's stages may take: the shop's own days, else the usual ones (common practice)."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.urls import reverse

from shopwarranty.claims import actions
from shopwarranty.claims.stage_days import StageDays, days_by_stage, set_stage_days
from shopwarranty.claims.stages import DAYS
from shopwarranty.shops.models import Change
from shopwarranty.shops.scope import shop_scope
from tests.claims.conftest import LATER, Bench

pytestmark = pytest.mark.usefixtures("at")


def said(bench: Bench, **days: int) -> int:
    return set_stage_days(days=days, actor=bench.owner, now=LATER)


def test_without_a_word_from_the_shop_the_usual_days_hold(bench: Bench) -> None:
    assert days_by_stage() == {str(state): days for state, days in DAYS.items()}
    assert bench.received().due_on == LATER.date() + timedelta(days=1)


def test_a_stage_is_due_after_the_shops_own_days(bench: Bench) -> None:
    said(bench, received=4, in_assessment=0)
    claim = bench.received()
    assert claim.due_on == date(2027, 3, 12)  # received on March 8, 2027
    actions.acknowledge(claim=claim, actor=bench.desk, now=LATER)
    assert claim.due_on == date(2027, 3, 11)  # nothing was said of this stage: the usual three days
    actions.assess(claim=claim, is_safety=None, is_spreading=None, note="", actor=bench.desk, now=LATER)
    assert claim.due_on == date(2027, 3, 8)  # no days: the same day


def test_what_is_due_already_stays_due(bench: Bench) -> None:
    claim = bench.received()
    said(bench, received=30)
    claim.refresh_from_db()
    assert claim.due_on == date(2027, 3, 9)


def test_who_changed_them_is_kept_and_saying_the_same_again_changes_nothing(bench: Bench) -> None:
    assert said(bench, told=21, remedied=DAYS["remedied"]) == 1  # type: ignore[index]
    assert said(bench, told=21) == 0
    change = Change.objects.get(act="days of a claim's stage")
    assert (change.before, change.after) == ({"told": 30}, {"told": 21})


def test_another_shop_keeps_its_own(bench: Bench, world: Any) -> None:
    said(bench, received=9)
    with shop_scope(world.theirs.shop):
        assert days_by_stage()["received"] == 1


def test_an_owner_says_them_on_a_page_and_a_day_late_stands_among_the_overdue(
    bench: Bench, at: Callable[[datetime], None]
) -> None:
    address, owner = reverse("claim-stages", args=["kiln"]), bench.people.client(bench.people.owner)
    assert address in owner.get(reverse("claims", args=["kiln"])).content.decode()
    typed = {**days_by_stage(), "received": 2}
    wrong = owner.post(address, {**typed, "told": "-3"})
    assert wrong.status_code == 200
    assert not StageDays.objects.exists()
    assert owner.post(address, typed).status_code == 302
    assert StageDays.objects.get().days == 2
    assert bench.people.client(bench.people.desk).get(address).status_code == 403
    claim = bench.received()
    for days, overdue in ((2, False), (3, True)):
        at(LATER + timedelta(days=days))
        listed = owner.get(reverse("claims", args=["kiln"]), {"show": "overdue"}).content.decode()
        assert (claim.number in listed) == overdue
