"""The vehicle in front of us again: what a visit says, what it leaves unsaid, what it settles."""

from datetime import date, datetime, time, timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from shopwarranty.inspections import actions
from shopwarranty.inspections.actions import refusals
from shopwarranty.inspections.actions.plans import window_of
from shopwarranty.inspections.due_dates import Timeliness, timeliness
from shopwarranty.inspections.models import Booking, Check, Finding, Visit
from shopwarranty.inspections.slots import slot_at
from shopwarranty.jobs.models import FilmPiece
from shopwarranty.shops.history import Actor
from tests import builders as b


@pytest.fixture
def hand(ours: Any) -> Actor:
    return Actor.of(ours.installer)


@pytest.fixture
def job(ours: Any) -> Any:
    return b.a_job(handed_over_on=b.days_ago(14))


def start(job: Any, hand: Actor, on: date = b.TODAY, **more: Any) -> Visit:
    values = {"origin": Visit.Origin.PLANNED, **more}
    return actions.start_visit(job=job, actor=hand, now=b.noon(on), today=on, **values)


def look(visit: Visit, *, but: str = "") -> None:
    for place in b.places_of(visit.job):
        if place.key != but:
            actions.say_finding(visit=visit, place=place, result="clean", now=b.NOW)


def finish(visit: Visit, hand: Actor) -> Visit:
    return actions.finish_visit(visit=visit, actor=hand, now=b.NOW)


def said(visit: Visit) -> dict[str, tuple[str, str]]:
    rows = visit.findings.filter(corrected_at__isnull=True).select_related("place")
    return {row.place.key: (row.result, row.said) for row in rows}


def test_a_planned_visit_in_the_window_settles_its_check(job: Any, hand: Actor) -> None:
    check = b.a_check(job)
    visit = start(job, hand)
    look(visit)
    finish(visit, hand)
    check.refresh_from_db()
    assert (visit.check_due, check.state) == (check, "done")


def test_E56_an_early_visit_is_kept_with_its_age_and_leaves_the_check_open(job: Any, hand: Actor) -> None:
    check = b.a_check(job, due_on=b.TODAY + timedelta(days=11))
    visit = start(job, hand, check=check)
    look(visit)
    finish(visit, hand)
    check.refresh_from_db()
    assert timeliness(window_of(check), visit.happened_on) is Timeliness.EARLY
    assert (visit.state, check.state) == ("finished", "due")


def test_E56_a_late_visit_settles_a_missed_check_late(job: Any, hand: Actor) -> None:
    check = b.a_check(job, due_on=b.days_ago(46), state="missed")
    visit = start(job, hand, check=check)
    look(visit)
    finish(visit, hand)
    check.refresh_from_db()
    assert timeliness(window_of(check), visit.happened_on) is Timeliness.LATE
    assert check.state == "done"


def test_E60_a_walk_in_closes_the_check_that_is_due_then_and_frees_the_time_booked(
    ours: Any, job: Any, hand: Actor
) -> None:
    check = b.a_check(job)
    tomorrow = datetime.combine(b.TODAY + timedelta(days=1), time(10))
    slot = slot_at(tomorrow, zone=ours.shop.time_zone, minutes=45, lane=1)
    booking = actions.book_check(check=check, slot=slot, actor=hand, now=b.NOW)
    visit = start(job, hand, origin=Visit.Origin.WALK_IN)
    look(visit)
    finish(visit, hand)
    check.refresh_from_db()
    booking.refresh_from_db()
    assert (check.state, booking.state, visit.booking) == ("done", "cancelled_holder", None)


def test_E60_a_walk_in_outside_every_window_settles_nothing(job: Any, hand: Actor) -> None:
    check = b.a_check(job, due_on=b.TODAY + timedelta(days=30))
    visit = start(job, hand, origin=Visit.Origin.WALK_IN)
    look(visit)
    finish(visit, hand)
    check.refresh_from_db()
    assert (visit.check_due, check.state) == (None, "due")


@pytest.mark.parametrize("origin", [Visit.Origin.DEFECT, Visit.Origin.CLAIM])
def test_a_vehicle_that_came_back_with_a_defect_is_still_invited_to_its_check(
    job: Any, hand: Actor, origin: str
) -> None:
    check = b.a_check(job)
    visit = start(job, hand, origin=origin, since_when=b.days_ago(3))
    look(visit)
    finish(visit, hand)
    check.refresh_from_db()
    assert (visit.check_due, check.state) == (None, "due")


def test_the_booking_of_that_day_is_kept(ours: Any, job: Any, hand: Actor) -> None:
    check = b.a_check(job)
    at_noon = datetime.combine(b.TODAY, time(14))
    slot = slot_at(at_noon, zone=ours.shop.time_zone, minutes=45, lane=1)
    booking = actions.book_check(check=check, slot=slot, actor=hand, now=b.NOW)
    visit = start(job, hand)
    look(visit)
    finish(visit, hand)
    booking.refresh_from_db()
    assert (visit.booking, booking.state) == (booking, Booking.State.KEPT)


def test_E41_a_visit_written_down_days_later_keeps_both_days_and_makes_up_for_not_kept(
    ours: Any, job: Any, hand: Actor
) -> None:
    check = b.a_check(job)
    slot = slot_at(datetime.combine(b.TODAY, time(14)), zone=ours.shop.time_zone, minutes=45, lane=1)
    booking = actions.book_check(check=check, slot=slot, actor=hand, now=b.NOW)
    later = b.TODAY + timedelta(days=3)
    actions.settle_overdue(b.noon(later))
    visit = start(job, hand, later, happened_on=b.TODAY)
    look(visit)
    finish(visit, hand)
    booking.refresh_from_db()
    assert (visit.happened_on, visit.entered_at) == (b.TODAY, b.noon(later))
    assert booking.state == "kept"


def test_a_visit_cannot_have_happened_tomorrow(job: Any, hand: Actor) -> None:
    with pytest.raises(refusals.InTheFuture):
        start(job, hand, happened_on=b.TODAY + timedelta(days=1))


def test_a_job_without_a_finished_panel_has_nothing_to_look_at(ours: Any, hand: Actor) -> None:
    with pytest.raises(refusals.NotFinishedYet):
        start(b.a_job(panels=()), hand)


def test_starting_twice_opens_one_visit(job: Any, hand: Actor) -> None:
    assert start(job, hand) == start(job, hand, origin=Visit.Origin.WALK_IN)
    with pytest.raises(IntegrityError), transaction.atomic():
        b.a_visit(job, finished=False)


def test_a_visit_started_by_mistake_says_and_settles_nothing(job: Any, hand: Actor) -> None:
    check = b.a_check(job)
    visit = start(job, hand)
    look(visit)
    actions.drop_visit(visit=visit, actor=hand, now=b.NOW)
    check.refresh_from_db()
    assert (visit.state, check.state) == ("dropped", "due")
    with pytest.raises(refusals.VisitOver):
        finish(visit, hand)


def test_swept_and_tapped_are_told_apart(job: Any, hand: Actor) -> None:
    visit = start(job, hand)
    window = b.a_place(job, "window")
    actions.say_finding(visit=visit, place=window, result="clean", now=b.NOW)
    bottom = b.a_place(job, "bottom")
    actions.say_finding(visit=visit, place=bottom, result="not_looked", why_not="dirty", now=b.NOW)
    work = window.piece.panel_work
    assert actions.sweep_panel(visit=visit, panel_work=work, now=b.NOW) == len(b.places_of(job)) - 2
    told = said(visit)
    assert (told["window"], told["bottom"]) == (("clean", "tapped"), ("not_looked", "tapped"))
    assert set(list(told.values())[2:]) == {("clean", "swept")}
    assert actions.sweep_panel(visit=visit, panel_work=work, now=b.NOW) == 0


def test_a_sweep_is_taken_back_without_touching_what_was_tapped(job: Any, hand: Actor) -> None:
    visit = start(job, hand)
    window = b.a_place(job, "window")
    actions.say_finding(visit=visit, place=window, result="clean", now=b.NOW)
    work = window.piece.panel_work
    actions.sweep_panel(visit=visit, panel_work=work, now=b.NOW)
    actions.take_back_sweep(visit=visit, panel_work=work)
    assert said(visit) == {"window": ("clean", "tapped")}


def test_a_sweep_stays_on_its_own_panel(ours: Any, hand: Actor) -> None:
    job = b.a_job(panels=("left-front-door", "bonnet"), handed_over_on=b.days_ago(14))
    visit = start(job, hand)
    door = b.places_of(job, "left-front-door")
    actions.sweep_panel(visit=visit, panel_work=door[0].piece.panel_work, now=b.NOW)
    assert visit.findings.count() == len(door)


def test_E61_a_place_nobody_looked_at_says_why_and_is_neither_clean_nor_wrong(job: Any, hand: Actor) -> None:
    visit = start(job, hand)
    look(visit, but="window")
    place = b.a_place(job, "window")
    actions.say_finding(visit=visit, place=place, result="not_looked", why_not="wet", now=b.NOW)
    finish(visit, hand)
    finding = visit.findings.get(place=place)
    assert (finding.result, finding.why_not, finding.said) == ("not_looked", "wet", "tapped")


def test_what_nobody_said_anything_about_is_written_down_as_not_looked_at(job: Any, hand: Actor) -> None:
    visit = start(job, hand)
    look(visit, but="window")
    finish(visit, hand)
    assert said(visit)["window"] == ("not_looked", "left")
    assert visit.findings.count() == len(b.places_of(job))


def test_when_nothing_could_be_looked_at_the_check_stays_due(job: Any, hand: Actor) -> None:
    check = b.a_check(job)
    finish(start(job, hand), hand)
    check.refresh_from_db()
    assert check.state == "due"


def test_E62_photos_never_say_clean_for_what_they_do_not_show_and_settle_no_check(
    job: Any, hand: Actor
) -> None:
    check = b.a_check(job)
    visit = start(job, hand, by_photo=True, check=check)
    place = b.a_place(job, "window")
    with pytest.raises(refusals.PhotosDoNotShowIt):
        actions.sweep_panel(visit=visit, panel_work=place.piece.panel_work, now=b.NOW)
    actions.say_finding(visit=visit, place=place, result="clean", now=b.NOW)
    finish(visit, hand)
    told = said(visit)
    assert told.pop("window") == ("clean", "tapped")
    assert set(told.values()) == {("not_looked", "left")}
    check.refresh_from_db()
    assert check.state == "due"


def test_saying_it_again_replaces_it_and_saying_the_same_changes_nothing(job: Any, hand: Actor) -> None:
    visit, place = start(job, hand), b.a_place(job, "window")
    first = actions.say_finding(visit=visit, place=place, result="clean", now=b.NOW)
    same = actions.say_finding(visit=visit, place=place, result="clean", now=b.NOW + timedelta(minutes=1))
    assert (same.at, same.version) == (first.at, 1)
    changed = actions.say_finding(visit=visit, place=place, result="not_looked", why_not="wet", now=b.NOW)
    assert (changed.pk, changed.result, changed.version) == (first.pk, "not_looked", 2)


def test_a_place_of_another_vehicle_or_with_its_film_gone_is_refused(job: Any, hand: Actor) -> None:
    visit = start(job, hand)
    other = b.a_job(handed_over_on=b.days_ago(14))
    with pytest.raises(refusals.NotPartOfThis):
        actions.say_finding(visit=visit, place=b.places_of(other)[0], result="clean", now=b.NOW)
    place = b.a_place(job, "window")
    FilmPiece.objects.filter(pk=place.piece_id).update(ended_on=b.days_ago(2), ended_why="replaced")
    with pytest.raises(refusals.NotPartOfThis):
        actions.say_finding(visit=visit, place=place, result="clean", now=b.NOW)


def test_a_finished_visit_is_corrected_by_a_new_row_with_a_reason(job: Any, hand: Actor) -> None:
    visit = start(job, hand)
    look(visit, but="window")
    finish(visit, hand)
    finding = visit.findings.get(place__key="window")
    with pytest.raises(refusals.ReasonNeeded):
        actions.correct_finding(finding=finding, result="clean", why="", actor=hand, now=b.NOW)
    new = actions.correct_finding(
        finding=finding, result="clean", why="looked at, not tapped", actor=hand, now=b.NOW
    )
    finding.refresh_from_db()
    assert (finding.result, finding.corrected_at) == ("not_looked", b.NOW)
    assert (new.corrects, new.result, new.correction_why) == (finding, "clean", "looked at, not tapped")
    with pytest.raises(refusals.VisitOver):
        actions.correct_finding(finding=finding, result="clean", why="again", actor=hand, now=b.NOW)


def test_findings_of_a_finished_visit_cannot_be_rewritten_by_any_way_in(job: Any, hand: Actor) -> None:
    visit = start(job, hand)
    look(visit)
    finish(visit, hand)
    place = b.a_place(job, "window")
    with pytest.raises(refusals.VisitOver):
        actions.say_finding(visit=visit, place=place, result="not_looked", now=b.NOW)
    with pytest.raises(IntegrityError), transaction.atomic():
        Finding.objects.filter(visit=visit).update(result="not_looked")
    with pytest.raises(IntegrityError), transaction.atomic():
        Finding.objects.filter(visit=visit).delete()


def test_a_correction_changes_the_stored_lives(job: Any, hand: Actor) -> None:
    from shopwarranty.defects.models import Life

    visit = start(job, hand)
    look(visit, but="window")
    finish(visit, hand)
    life = Life.objects.get(place__key="window")
    assert life.clean_day is None
    finding = visit.findings.get(place__key="window")
    actions.correct_finding(finding=finding, result="clean", why="was clean", actor=hand, now=b.NOW)
    life.refresh_from_db()
    assert life.clean_day == 14


def test_findings_keep_the_order_in_which_they_were_said(job: Any, hand: Actor) -> None:
    visit = start(job, hand)
    for key in ("bottom", "window"):
        actions.say_finding(visit=visit, place=b.a_place(job, key), result="clean", now=b.NOW)
    assert [row.place.key for row in visit.findings.order_by("order")] == ["bottom", "window"]


def test_a_check_settled_in_the_meantime_stays_settled(job: Any, hand: Actor) -> None:
    check = b.a_check(job)
    visit = start(job, hand)
    look(visit)
    actions.waive_check(check=Check.objects.get(pk=check.pk), why="sold", actor=hand, now=b.NOW)
    finish(visit, hand)
    check.refresh_from_db()
    assert (visit.state, check.state) == ("finished", "waived")


def test_a_booking_called_off_while_the_vehicle_is_looked_at_does_not_keep_the_visit_open(
    job: Any, hand: Actor
) -> None:
    check = b.a_check(job)
    booking = b.a_booking(check)
    visit = start(job, hand, check=check)
    look(visit)
    actions.cancel_booking(booking=booking, by_holder=False, actor=hand, now=b.NOW)
    finish(visit, hand)
    check.refresh_from_db()
    booking.refresh_from_db()
    assert (visit.state, check.state, booking.state) == ("finished", "done", "cancelled_shop")


def test_a_handover_look_after_the_handover_is_refused_since_it_would_hide_failures(
    job: Any, hand: Actor
) -> None:
    with pytest.raises(refusals.HandedOverAlready):
        start(job, hand, is_handover_look=True)
    assert not Visit.objects.exists()


def test_there_is_one_handover_look_and_none_beside_a_visit_of_another_kind(ours: Any, hand: Actor) -> None:
    job = b.a_job()
    walk_in = start(job, hand, origin=Visit.Origin.WALK_IN)
    with pytest.raises(refusals.AnotherVisitOpen):
        start(job, hand, is_handover_look=True)
    actions.drop_visit(visit=walk_in, actor=hand, now=b.NOW)
    look = start(job, hand, is_handover_look=True)
    for place in b.places_of(job):
        actions.say_finding(visit=look, place=place, result="clean", now=b.NOW)
    finish(look, hand)
    with pytest.raises(refusals.VisitOver):
        start(job, hand, is_handover_look=True)


def test_a_handover_look_finished_early_is_opened_again_for_what_nobody_looked_at(
    ours: Any, hand: Actor
) -> None:
    job = b.a_job()
    look = start(job, hand, is_handover_look=True)
    first, *rest = b.places_of(job)
    actions.say_finding(visit=look, place=first, result="clean", now=b.NOW)
    finish(look, hand)
    again = start(job, hand, is_handover_look=True)
    assert (again.pk, again.state, again.finished_at) == (look.pk, "open", None)
    assert [each.place for each in again.findings.all()] == [first]
    for place in rest:
        actions.say_finding(visit=again, place=place, result="clean", now=b.NOW)
    assert finish(again, hand).findings.filter(result="clean").count() == 1 + len(rest)
    assert Visit.objects.count() == 1


def test_a_look_dated_before_the_film_was_laid_is_refused(job: Any, hand: Actor) -> None:
    laid = b.days_ago(14)
    with pytest.raises(refusals.NotFinishedYet):
        start(job, hand, happened_on=laid - timedelta(days=1))
    assert start(job, hand, happened_on=laid).happened_on == laid
