"""Checks from being planned to being settled, and the calls in between. Common practice, no source."""

from datetime import date, datetime, time, timedelta
from typing import Any

import pytest

from shopwarranty.inspections import actions
from shopwarranty.inspections.actions import refusals
from shopwarranty.inspections.models import Booking, Check, CheckPlan, ContactAttempt, Visit
from shopwarranty.inspections.slots import slot_at
from shopwarranty.outbox.models import Message
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Change
from shopwarranty.shops.scope import shop_scope
from tests import builders as b


@pytest.fixture
def desk(ours: Any) -> Actor:
    return Actor.of(ours.desk)


def planned(on: date, **more: Any) -> dict[str, Check]:
    job = b.a_job(handed_over_on=on)
    checks = actions.plan_checks(job=job, handed_over_on=on, now=b.NOW, **more)
    return {f"{check.plan.key} {check.due_on}": check for check in checks}


@pytest.mark.parametrize(
    ("handed_over", "due"),
    [
        (date(2026, 2, 14), date(2026, 2, 28)),
        (date(2028, 2, 15), date(2028, 2, 29)),
        (date(2024, 2, 29), date(2024, 3, 14)),
        (date(2026, 12, 24), date(2027, 1, 7)),
        (date(2026, 10, 18), date(2026, 11, 1)),
    ],
)
def test_the_two_week_check_appears_by_itself_fourteen_days_on(
    ours: Any, handed_over: date, due: date
) -> None:
    """Two weeks are 14 days: plain calendar arithmetic, computed."""
    check = planned(handed_over)[f"two-week {due}"]
    assert (check.window_from, check.window_to) == (
        handed_over + timedelta(days=7),
        handed_over + timedelta(days=28),
    )
    assert check.state == "due"


def test_a_new_shop_has_its_usual_plans_in_its_own_language_once(ours: Any) -> None:
    for _ in range(2):
        actions.add_usual_check_plans(shop=ours.shop)
    keys = list(CheckPlan.objects.order_by("pk").values_list("key", flat=True))
    assert keys == ["handover", "two-week", "three-month", "yearly"]


def test_yearly_checks_run_to_the_last_covered_day_from_the_original_date(ours: Any) -> None:
    """29 February: the last day of the month where there is none, counted from the start, never chained."""
    checks = planned(date(2024, 2, 29), last_day=date(2029, 2, 28))
    yearly = [key.removeprefix("yearly ") for key in checks if key.startswith("yearly")]
    assert yearly == ["2025-02-28", "2026-02-28", "2027-02-28", "2028-02-29", "2029-02-28"]


def test_planning_twice_plans_once(ours: Any) -> None:
    job = b.a_job(handed_over_on=b.TODAY)
    for _ in range(2):
        actions.plan_checks(job=job, handed_over_on=b.TODAY, now=b.NOW)
    assert Check.objects.count() == 4


def test_history_brought_in_leaves_no_overdue_checks(ours: Any) -> None:
    checks = planned(b.days_ago(200), not_before=b.TODAY)
    assert [key.split()[0] for key in checks] == ["yearly"]


def test_a_retired_plan_plans_nothing_more(ours: Any) -> None:
    actions.add_usual_check_plans(ours.shop)
    CheckPlan.objects.filter(key="yearly").update(retired_at=b.NOW)
    assert not any(key.startswith("yearly") for key in planned(b.TODAY))


def test_the_handover_look_is_the_check_of_day_nought(ours: Any) -> None:
    job = b.a_job(handed_over_on=b.TODAY)
    look = b.looked_at(job, b.TODAY, is_handover_look=True)
    checks = actions.plan_checks(job=job, handed_over_on=b.TODAY, now=b.NOW, handover_look=look)
    look.refresh_from_db()
    first = checks[0]
    assert (first.plan.key, first.state, first.due_on, look.check_due) == ("handover", "done", b.TODAY, first)


def test_handed_over_without_a_look_that_check_counts_as_missed_and_says_why(ours: Any) -> None:
    first = planned(b.TODAY)[f"handover {b.TODAY}"]
    assert (first.state, first.state_why) == ("missed", "Handed over without a look.")


def test_a_check_nobody_came_to_is_missed_when_its_window_is_over(ours: Any) -> None:
    check = b.a_check(due_on=b.days_ago(15))
    last_day = b.a_check(due_on=b.days_ago(14))
    assert actions.settle_overdue(b.NOW).missed == 1
    check.refresh_from_db()
    last_day.refresh_from_db()
    assert (check.state, last_day.state) == ("missed", "due")
    assert Change.objects.filter(table="inspections_check", row=check.pk, act="missed").exists()
    assert actions.settle_overdue(b.NOW).missed == 0


def test_days_end_in_the_shops_own_zone(world: Any) -> None:
    """23:30 in New York is already tomorrow in Berlin."""
    late_evening = datetime.combine(b.TODAY, time(23, 30), tzinfo=world.ours.shop.zone)
    for people in (world.ours, world.theirs):
        with shop_scope(people.shop):
            b.a_check(due_on=b.days_ago(14))
    assert actions.settle_overdue(late_evening).missed == 1
    with shop_scope(world.theirs.shop):
        assert Check.objects.get().state == "missed"


def test_a_check_with_a_time_to_come_is_late_but_not_missed(ours: Any, desk: Actor) -> None:
    check = b.a_check(due_on=b.days_ago(15))
    slot = slot_at(
        datetime.combine(b.TODAY + timedelta(days=1), time(10)),
        zone=ours.shop.time_zone,
        minutes=45,
        lane=1,
    )
    actions.book_check(check=check, slot=slot, actor=desk, now=b.NOW)
    assert actions.settle_overdue(b.NOW).missed == 0
    settled = actions.settle_overdue(b.NOW + timedelta(days=2))
    assert (settled.not_kept, settled.missed) == (1, 1)
    assert Booking.objects.get().state == "not_kept"


def test_a_vehicle_being_looked_at_right_now_is_not_missed(ours: Any) -> None:
    check = b.a_check(due_on=b.days_ago(15))
    b.a_visit(check.job, finished=False, check_due=check)
    assert actions.settle_overdue(b.NOW).missed == 0


def test_E66_a_sold_or_scrapped_vehicle_has_no_more_checks_and_says_why(ours: Any, desk: Actor) -> None:
    job = b.a_job(handed_over_on=b.TODAY)
    actions.plan_checks(job=job, handed_over_on=b.TODAY, now=b.NOW)
    check = Check.objects.get(plan__key="two-week")
    slot = slot_at(
        datetime.combine(b.TODAY + timedelta(days=14), time(10)),
        zone=ours.shop.time_zone,
        minutes=45,
        lane=1,
    )
    booking = actions.book_check(check=check, slot=slot, actor=desk, now=b.NOW)
    with pytest.raises(refusals.ReasonNeeded):
        actions.waive_all(vehicle=job.vehicle, why="", actor=desk, now=b.NOW)
    assert actions.waive_all(vehicle=job.vehicle, why="scrapped", actor=desk, now=b.NOW) == 4
    booking.refresh_from_db()
    assert booking.state == "cancelled_holder"
    assert set(Check.objects.values_list("state", "state_why")) == {("waived", "scrapped")}
    assert not Message.objects.filter(state="waiting", key__endswith=":booked").exists()


def test_a_check_set_aside_by_mistake_can_be_taken_up_again(ours: Any, desk: Actor) -> None:
    check = b.a_check()
    actions.waive_check(check=check, why="sold", actor=desk, now=b.NOW)
    actions.take_up_again(check=check, actor=desk, now=b.NOW)
    check.refresh_from_db()
    assert (check.state, check.state_why, check.settled_at) == ("due", "", None)


@pytest.mark.parametrize(
    ("result", "rest"), [("reached", 7), ("message_left", 3), ("no_answer", 1), ("call_again", 1)]
)
def test_after_a_call_somebody_rests_unless_another_time_was_said(
    ours: Any, desk: Actor, result: str, rest: int
) -> None:
    check = b.a_check()
    attempt = actions.note_contact(check=check, result=result, actor=desk, now=b.NOW)
    assert attempt.again_at == b.NOW + timedelta(days=rest)
    said = b.NOW + timedelta(hours=2)
    again = actions.note_contact(
        check=check, result=result, actor=desk, now=b.NOW, again_at=said, note="2 pm"
    )
    assert (again.again_at, again.note, again.vehicle) == (said, "2 pm", check.job.vehicle)


def test_a_call_noted_stays_as_it_was_noted(ours: Any, desk: Actor) -> None:
    from django.db import IntegrityError, transaction

    attempt = actions.note_contact(check=b.a_check(), result="reached", actor=desk, now=b.NOW)
    with pytest.raises(IntegrityError), transaction.atomic():
        ContactAttempt.objects.filter(pk=attempt.pk).update(note="something else")


def test_who_does_not_want_the_check_is_not_called_again(ours: Any, desk: Actor) -> None:
    check = b.a_check()
    actions.note_contact(check=check, result="declined", actor=desk, now=b.NOW)
    check.refresh_from_db()
    assert (check.state, check.state_why) == ("waived", "The holder does not want this check.")


def test_every_check_of_a_shop_ends_in_done_missed_or_waived(ours: Any, desk: Actor) -> None:
    """A quarter of a year of jobs, day by day, with vehicles that come, come late, or never come."""
    first = b.days_ago(200)
    for number in range(12):
        on = first + timedelta(days=7 * number)
        actions.plan_checks(job=b.a_job(handed_over_on=on), handed_over_on=on, now=b.NOW)
    for day in (first + timedelta(days=n) for n in range(0, 600, 3)):
        now = b.noon(day)
        actions.settle_overdue(now)
        for check in Check.objects.filter(state="due", due_on=day, job__pk__gt=0):
            if check.pk % 3 == 0:
                visit = actions.start_visit(
                    job=check.job, origin=Visit.Origin.WALK_IN, actor=desk, now=now, today=day
                )
                for place in b.places_of(check.job):
                    actions.say_finding(visit=visit, place=place, result="clean", now=now)
                actions.finish_visit(visit=visit, actor=desk, now=now)
    states = set(Check.objects.values_list("state", flat=True))
    assert states == {"done", "missed"}
