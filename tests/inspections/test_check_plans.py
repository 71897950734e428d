"""Editing check plans: what a change would do, what it does, and putting it back.

Dates by plain calendar arithmetic, clamped to the month's end, computed.
"""

import re
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from shopwarranty.inspections import actions
from shopwarranty.inspections.actions.check_plans import (
    add_check_plan,
    change_check_plan,
    retire_check_plan,
    undo_plan_change,
)
from shopwarranty.inspections.actions.refusals import PlanFixed, PlanMovedOn
from shopwarranty.inspections.models import Check, CheckPlan
from shopwarranty.inspections.plan_changes import Effect, PlanValues, effect_of
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Change
from tests import builders as b
from tests.conftest import ShopPeople

EDGE = PlanValues("Edge check", 0, 14, 7, 14, 45, "all", True, False)


@pytest.fixture
def owner(ours: ShopPeople) -> Actor:
    return Actor.of(ours.owner)


def planned(on: date, **more: Any) -> Any:
    job = b.a_job(handed_over_on=on)
    actions.plan_checks(job=job, handed_over_on=on, now=b.NOW, **more)
    return job


def change(key: str, owner: Actor, **values: Any) -> tuple[Change | None, Effect]:
    plan = CheckPlan.objects.get(key=key)
    wanted = replace(PlanValues.of(plan), **values)
    return change_check_plan(plan=plan, values=wanted, seen_version=plan.version, actor=owner, now=b.NOW)


def days(key: str, **where: Any) -> list[tuple[date, date, date]]:
    rows = Check.objects.filter(plan__key=key, **where).order_by("pk")
    return list(rows.values_list("due_on", "window_from", "window_to"))


def test_a_check_without_a_time_moves_with_its_plan_and_a_booked_one_does_not(owner: Actor) -> None:
    free, booked = planned(date(2026, 11, 20)), planned(date(2026, 11, 20))
    b.a_booking(Check.objects.get(job=booked, plan__key="two-week"))
    change("two-week", owner, offset_days=21, days_before=3, days_after=10)
    assert days("two-week", job=free) == [(date(2026, 12, 11), date(2026, 12, 8), date(2026, 12, 21))]
    assert days("two-week", job=booked) == [(date(2026, 12, 4), date(2026, 11, 27), date(2026, 12, 18))]


@pytest.mark.parametrize("state", ["done", "missed", "waived"])
def test_a_settled_check_stays_what_it_was(owner: Actor, state: str) -> None:
    planned(date(2026, 11, 20))
    Check.objects.filter(plan__key="two-week").update(state=state, settled_at=b.NOW)
    before = days("two-week")
    change("two-week", owner, offset_days=21)
    assert days("two-week") == before


def test_a_check_being_looked_at_stays(owner: Actor) -> None:
    job = planned(b.days_ago(14))
    b.a_visit(job, finished=False, check_due=Check.objects.get(plan__key="two-week"))
    _, effect = change("two-week", owner, offset_days=21)
    assert (effect.shifts, effect.stays_booked) == ((), 1)


def test_what_is_shown_before_saving_is_what_saving_does(owner: Actor) -> None:
    for number in range(5):
        planned(b.days_ago(3 * number))
    b.a_booking(Check.objects.filter(plan__key="two-week").earliest("pk"))
    plan = CheckPlan.objects.get(key="two-week")
    values = replace(PlanValues.of(plan), offset_days=4, days_before=2)
    shown = effect_of(plan, values)
    assert (len(shown.shifts), shown.stays_booked, shown.late_on(b.TODAY)) == (4, 1, 3)
    change("two-week", owner, offset_days=4, days_before=2)
    stored = {check.pk: check.due_on for check in Check.objects.filter(plan=plan)}
    assert all(stored[shift.check.pk] == shift.window.due for shift in shown.shifts)


def test_yearly_checks_move_each_from_handover_itself(owner: Actor) -> None:
    """29 February: the month's last day where there is none, counted from the start, never chained."""
    planned(date(2024, 2, 29), last_day=date(2028, 12, 31))
    change("yearly", owner, offset_months=24)
    due = [each[0] for each in days("yearly")]
    assert due == [date(2026, 2, 28), date(2027, 2, 28), date(2028, 2, 29), date(2029, 2, 28)]


def test_a_day_that_another_check_of_the_vehicle_has_is_not_taken_twice(owner: Actor) -> None:
    job = planned(date(2026, 3, 1), last_day=date(2029, 3, 1))
    second = Check.objects.get(job=job, plan__key="yearly", due_on=date(2028, 3, 1))
    Check.objects.filter(pk=second.pk).update(state="done", settled_at=b.NOW)
    _, effect = change("yearly", owner, offset_months=24)
    assert effect.in_the_way == 1
    assert [each[0] for each in days("yearly")] == [date(2027, 3, 1), date(2028, 3, 1), date(2030, 3, 1)]


def test_a_change_is_a_version_with_its_history_and_can_be_put_back(owner: Actor) -> None:
    planned(b.TODAY)
    before = days("two-week")
    made, _ = change("two-week", owner, offset_days=21, name="Three-week check")
    plan = CheckPlan.objects.get(key="two-week")
    assert made is not None
    assert (plan.version, plan.name) == (2, "Three-week check")
    assert made.before == {"offset_days": 14, "name": "Two-week edge check"}
    undo_plan_change(plan=plan, change=made, actor=owner, now=b.NOW)
    plan.refresh_from_db()
    assert (plan.version, plan.name, days("two-week")) == (3, "Two-week edge check", before)
    assert Change.objects.filter(act="moved with its plan").count() == 2


def test_who_saves_later_does_not_wipe_out_what_was_saved_meanwhile(owner: Actor) -> None:
    planned(b.TODAY)
    plan = CheckPlan.objects.get(key="two-week")
    change("two-week", owner, minutes=30)
    with pytest.raises(PlanMovedOn):
        change_check_plan(plan=plan, values=EDGE, seen_version=plan.version, actor=owner, now=b.NOW)
    assert CheckPlan.objects.get(key="two-week").minutes == 30


def test_the_handover_look_keeps_its_day_and_is_not_retired(owner: Actor) -> None:
    planned(b.TODAY)
    with pytest.raises(PlanFixed):
        change("handover", owner, offset_days=1)
    with pytest.raises(PlanFixed):
        retire_check_plan(plan=CheckPlan.objects.get(key="handover"), actor=owner, now=b.NOW)
    change("handover", owner, minutes=20)
    assert CheckPlan.objects.get(key="handover").minutes == 20


def test_a_new_plan_counts_for_vehicles_handed_over_from_then_on(owner: Actor) -> None:
    planned(b.TODAY)
    plan = add_check_plan(values=replace(EDGE, offset_days=5), actor=owner, now=b.NOW)
    again = add_check_plan(values=replace(EDGE, offset_days=9), actor=owner, now=b.NOW)
    assert (plan.key, again.key) == ("edge-check", "edge-check-2")
    assert not Check.objects.filter(plan=plan).exists()
    planned(b.TODAY)
    assert Check.objects.get(plan=plan).due_on == b.TODAY + timedelta(days=5)


# --- pages

SENT = {
    "name": "Two-week edge check",
    "offset_months": "0",
    "offset_days": "21",
    "days_before": "7",
    "days_after": "14",
    "minutes": "45",
    "places": "recesses",
    "for_whom": "holder",
}


@pytest.fixture
def page(ours: ShopPeople) -> Any:
    return ours.client(ours.owner)


def test_the_page_saves_nothing_before_its_effect_was_seen(page: Any, owner: Actor) -> None:
    planned(b.TODAY)
    plan = CheckPlan.objects.get(key="two-week")
    url = f"/s/kiln/check-plans/{plan.pk}/"
    shown = page.post(url, SENT).content.decode()
    assert "One check gets another day or window." in shown
    plan.refresh_from_db()
    assert plan.offset_days == 14
    token = re.search(r'name="looked_at" value="([^"]+)"', shown)
    assert token is not None
    looked_at = token[1].replace("&#x27;", "'")
    other = page.post(url, {**SENT, "offset_days": "30", "looked_at": looked_at})
    assert other.status_code == 200
    assert page.post(url, {**SENT, "looked_at": looked_at}).status_code == 302
    plan.refresh_from_db()
    assert (plan.offset_days, plan.places) == (21, "recesses")
    assert "days after handover: 14, now 21" in page.get(url).content.decode()


def test_a_plan_typed_wrong_keeps_what_was_typed(page: Any) -> None:
    shown = page.post("/s/kiln/check-plans/new/", {**SENT, "offset_days": "0", "name": "Quick look"})
    assert b'value="Quick look"' in shown.content
    assert "at least one day" in shown.content.decode()
    page.post("/s/kiln/check-plans/new/", {**SENT, "name": "Quick look"})
    assert CheckPlan.objects.get(key="quick-look").offset_days == 21


def test_a_plan_is_retired_and_planned_again(page: Any, owner: Actor) -> None:
    planned(b.TODAY)
    plan = CheckPlan.objects.get(key="yearly")
    page.post(f"/s/kiln/check-plans/{plan.pk}/standing/")
    assert "no longer planned" in page.get("/s/kiln/check-plans/").content.decode()
    page.post(f"/s/kiln/check-plans/{plan.pk}/standing/")
    plan.refresh_from_db()
    assert plan.retired_at is None


def test_the_list_of_plans_and_a_preview_ask_as_often_for_many_checks_as_for_few(
    page: Any, owner: Actor, django_assert_max_num_queries: Any
) -> None:
    counts = []
    for more in (1, 12):
        for number in range(more):
            planned(b.days_ago(number))
        plan = CheckPlan.objects.get(key="two-week")
        with django_assert_max_num_queries(15) as captured:
            page.get("/s/kiln/check-plans/")
            page.post(f"/s/kiln/check-plans/{plan.pk}/", SENT)
        counts.append(len(captured))
    assert counts[0] == counts[1]


def test_no_paper_names_a_check_as_a_condition() -> None:
    """Plans have no text on a certificate: nothing in the papers reads them."""
    from pathlib import Path

    import shopwarranty.warranty as warranty

    assert warranty.__file__
    papers = Path(warranty.__file__).parent / "templates" / "warranty" / "paper"
    assert papers.exists()
    assert not any("check_plan" in paper.read_text() for paper in papers.rglob("*.html"))


def test_the_shops_own_routine_is_listed_but_nobody_is_called_about_it(page: Any, owner: Actor) -> None:
    from shopwarranty.inspections import selectors

    b.a_check(plan=b.a_plan("routine", name="Own look", offered_to_holder=False))
    assert not selectors.to_call(b.TODAY, b.NOW).exists()
    assert selectors.need_a_time(b.TODAY, b.TODAY).count() == 1
