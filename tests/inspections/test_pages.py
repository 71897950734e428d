"""The desk's pages: lists that answer first, one press to book, the week, calls."""

import re
from datetime import date, datetime, time, timedelta
from typing import Any

import pytest
from django.utils import timezone

from shopwarranty.inspections import actions, selectors
from shopwarranty.inspections.models import Booking, Check, ContactAttempt
from shopwarranty.outbox.models import Message
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Bay, ClosedDay
from tests import builders as b


@pytest.fixture
def now(monkeypatch: pytest.MonkeyPatch) -> datetime:
    """Pages take the moment from the clock: here it stands at Wednesday, 10:00 in New York."""
    monkeypatch.setattr(timezone, "now", lambda: b.NOW)
    return b.NOW


@pytest.fixture
def page(ours: Any, now: datetime) -> Any:
    client = ours.client(ours.desk)

    def ask(path: str, sent: dict[str, Any] | None = None, **more: Any) -> Any:
        address = f"/s/kiln/{path}"
        return client.get(address, **more) if sent is None else client.post(address, sent, **more)

    return ask


def text_of(answer: Any) -> str:
    """What is read on the page, without tags."""
    assert answer.status_code == 200, answer.status_code
    words = re.sub(r"<[^>]+>", " ", answer.content.decode())
    return " ".join(words.replace("\u00a0", " ").replace("&nbsp;", " ").split())


def checks_due(count: int, first: date = b.TODAY, **more: Any) -> list[Check]:
    return [b.a_check(due_on=first, **more) for _ in range(count)]


# --- whom to call


def listed(rows: Any) -> set[int]:
    return set(rows.values_list("pk", flat=True))


def test_to_call_are_those_due_within_three_days_or_overdue_without_a_time(ours: Any) -> None:
    late, soon = b.a_check(due_on=b.days_ago(3)), b.a_check(due_on=b.TODAY + timedelta(days=3))
    b.a_check(due_on=b.TODAY + timedelta(days=4))
    b.a_booking(b.a_check(), on=b.TODAY + timedelta(days=1))
    b.a_check(state="missed", due_on=b.days_ago(40))
    b.a_check(plan=b.a_plan("handover", offered_to_holder=False))
    assert listed(selectors.to_call(b.TODAY, b.NOW)) == {late.pk, soon.pk}


def test_who_was_called_is_left_alone_until_the_time_said(ours: Any) -> None:
    check, desk = b.a_check(), Actor.of(ours.desk)
    actions.note_contact(check=check, result="no_answer", actor=desk, now=b.NOW)
    assert not listed(selectors.to_call(b.TODAY, b.NOW))
    assert listed(selectors.to_call(b.TODAY, b.NOW + timedelta(days=1))) == {check.pk}


def test_E57_who_stayed_away_three_times_is_no_longer_called(ours: Any) -> None:
    check = b.a_check()
    for n in range(3):
        assert listed(selectors.to_call(b.TODAY, b.NOW)) == {check.pk}
        b.a_booking(check, on=b.days_ago(3 - n), state="not_kept")
    assert not listed(selectors.to_call(b.TODAY, b.NOW))
    assert Check.objects.get().state == "due"


def test_a_vehicle_being_looked_at_is_not_called(ours: Any) -> None:
    check = b.a_check()
    b.a_visit(check.job, finished=False, check_due=check)
    assert not listed(selectors.to_call(b.TODAY, b.NOW))


def test_overdue_counts_booked_ones_too_and_this_week_runs_monday_to_sunday(ours: Any) -> None:
    late = b.a_check(due_on=b.days_ago(1))
    b.a_booking(late, on=b.TODAY + timedelta(days=1))
    monday, sunday = b.a_check(due_on=date(2026, 11, 23)), b.a_check(due_on=date(2026, 11, 29))
    b.a_check(due_on=date(2026, 11, 30))
    assert listed(selectors.overdue(b.TODAY)) == {late.pk, monday.pk}
    assert listed(selectors.due_this_week(b.TODAY)) == {late.pk, monday.pk, sunday.pk}


def test_coming_in_are_the_days_bookings_in_the_shops_zone(ours: Any) -> None:
    check = b.a_check()
    late_evening = b.a_booking(check, on=b.TODAY + timedelta(days=1), hour=3)  # 22:00 today in New York
    assert list(selectors.coming_in(ours.shop, b.TODAY)) == [late_evening]
    assert not selectors.coming_in(ours.shop, b.TODAY + timedelta(days=1))


def test_free_places_follow_each_other_and_know_how_many_bays(ours: Any) -> None:
    Bay.objects.create(name="Bay 2", position=2)
    thursday = b.TODAY + timedelta(days=1)
    b.a_booking(b.a_check(), on=thursday, hour=14)  # 9:00 in New York, Bay 1
    places = selectors.free_places(ours.shop, thursday, now=b.NOW, minutes=45)
    told = [(f"{place.slot.starts_local:%H:%M}", place.slot.lane, place.lanes) for place in places]
    assert told[:3] == [("08:00", 1, 2), ("08:45", 2, 1), ("09:30", 2, 1)]
    assert told[-1] == ("16:15", 1, 2)


@pytest.mark.parametrize("words", ["7fn-100", "A. Example", "0DEMXWRA1TF000123", "J77"])
def test_a_check_is_found_by_plate_name_vin_or_job(ours: Any, words: str) -> None:
    vehicle = b.a_vehicle(plate="7FN 100", vin="0DEMXWRA1TF000123", vin_kind="vin")
    wanted = b.a_check(b.a_job(vehicle=vehicle, handed_over_on=b.days_ago(14), ref="J77"))
    other = b.a_vehicle(plate="9ZZ 999", holder=b.a_holder("Z. Sample"))
    b.a_check(b.a_job(vehicle=other, handed_over_on=b.days_ago(14)))
    assert listed(selectors.matching(selectors.every_check(), words)) == {wanted.pk}


# --- pages


def test_the_list_says_first_how_many_to_call_and_how_many_are_overdue(page: Any) -> None:
    checks_due(2)
    b.a_check(due_on=b.days_ago(2))
    assert "3 to call, 1 check overdue." in text_of(page("checks/"))


@pytest.mark.parametrize("show", list(selectors.FILTERS))
def test_every_part_of_the_list_opens_empty_and_filled(page: Any, show: str) -> None:
    assert page(f"checks/?show={show}").status_code == 200
    b.a_booking(b.a_check(due_on=b.days_ago(1)), on=b.TODAY + timedelta(days=1))
    for state in ("due", "done", "missed", "waived"):
        b.a_check(state=state, settled_at=b.NOW)
    assert "Two-week edge check" in text_of(page(f"checks/?show={show}"))


def test_long_lists_come_in_pages_of_fifty_and_keep_the_filter(page: Any) -> None:
    job = b.a_job(handed_over_on=b.days_ago(14))
    for n in range(51):
        b.a_check(job, due_on=b.days_ago(n))
    first, second = page("checks/?show=all"), page("checks/?show=all&page=2")
    assert first.content.count(b"row-three") == 50
    assert second.content.count(b"row-three") == 1
    assert b"show=all&amp;page=2" in first.content


@pytest.mark.parametrize("path", ["checks/?show=all", "week/", "checks/?show=call"])
def test_pages_ask_the_database_as_often_for_forty_checks_as_for_two(
    page: Any, path: str, django_assert_max_num_queries: Any
) -> None:
    counts = []
    for more in (2, 20):
        for n in range(more):
            b.a_booking(b.a_check(), on=b.TODAY + timedelta(days=1), hour=13 + n % 8, lane=n + more * 10)
            b.a_check()
        with django_assert_max_num_queries(30) as captured:
            page(path)
        counts.append(len(captured))
    assert counts[0] == counts[1]


def test_one_press_books_the_first_free_place_on_or_after_the_due_day(page: Any) -> None:
    ClosedDay.objects.create(on=b.TODAY + timedelta(days=1), name="Holiday")
    check = b.a_check(due_on=b.TODAY + timedelta(days=1))
    answer = page(f"checks/{check.pk}/book/")
    assert "Book Friday, November 27, 8:00 am" in text_of(answer)
    slot = re.search(rb'name="slot" value="([^"]+)"', answer.content)
    assert slot is not None
    page(f"checks/{check.pk}/book/", {"slot": slot[1].decode()})
    booking = Booking.objects.get()
    assert (booking.starts_local, booking.check_due) == ("2026-11-27T08:00", check)
    assert Message.objects.get().key.endswith(":v0:booked")


def test_a_place_somebody_took_meanwhile_is_said_and_others_are_offered(page: Any) -> None:
    check, other = checks_due(2)
    b.a_booking(other, on=b.TODAY + timedelta(days=1))
    answer = page(f"checks/{check.pk}/book/", {"slot": "2026-11-26T10:00/1"})
    assert "That place has just been taken." in text_of(answer)
    assert Booking.objects.count() == 1
    assert b'name="slot"' in answer.content


@pytest.mark.parametrize("slot", ["", "yesterday", "2026-11-26T10:00", "2026-11-26T10:00/99", "x/1"])
def test_a_slot_nobody_offered_books_nothing(page: Any, slot: str) -> None:
    answer = page(f"checks/{b.a_check().pk}/book/", {"slot": slot})
    assert "The shop does not offer that time." in text_of(answer)
    assert not Booking.objects.exists()


def test_another_time_needs_a_reason_and_keeps_what_was_typed(page: Any) -> None:
    check = b.a_check()
    sent = {"on": "2026-11-28", "at": "18:00", "why": ""}
    answer = page(f"checks/{check.pk}/book/", sent)
    assert b'value="2026-11-28"' in answer.content
    assert not Booking.objects.exists()
    page(f"checks/{check.pk}/book/", {**sent, "why": "only then"})
    assert Booking.objects.get().over_capacity_why == "only then"
    week = text_of(page("week/"))
    assert "Exception: only then" in week


def test_booking_a_booked_check_leads_to_moving_it(page: Any) -> None:
    booking = b.a_booking(b.a_check(), on=b.TODAY + timedelta(days=1))
    answer = page(f"checks/{booking.check_due_id}/book/", follow=True)
    assert "Move it from Thursday, November 26, 10:00 am" in text_of(answer)
    page(f"bookings/{booking.pk}/move/", {"slot": "2026-11-27T09:00/1"})
    moved = Booking.objects.get(state="booked")
    assert (moved.uid, moved.sequence, moved.starts_local) == (booking.uid, 1, "2026-11-27T09:00")


def test_calling_off_asks_who_does_and_frees_the_place(page: Any) -> None:
    booking = b.a_booking(b.a_check(), on=b.TODAY + timedelta(days=1))
    assert "Call off Thursday, November 26, 10:00 am?" in text_of(page(f"bookings/{booking.pk}/cancel/"))
    assert page(f"bookings/{booking.pk}/cancel/", {"why": "flood"}).status_code == 200
    page(f"bookings/{booking.pk}/cancel/", {"by": "shop", "why": "flood"})
    booking.refresh_from_db()
    assert booking.state == "cancelled_shop"


def test_after_an_act_one_is_back_on_the_page_one_came_from_but_never_elsewhere(page: Any) -> None:
    check = b.a_check()
    sent = {"slot": "2026-11-26T10:00/1", "next": "/s/kiln/week/?from=2026-11-23"}
    assert page(f"checks/{check.pk}/book/", sent)["Location"] == sent["next"]
    other = b.a_check()
    sent = {"slot": "2026-11-26T11:00/1", "next": "https://elsewhere.example/"}
    assert page(f"checks/{other.pk}/book/", sent)["Location"] == f"/s/kiln/checks/{other.pk}/"


def test_a_call_is_noted_with_its_outcome_and_when_to_try_again(page: Any, ours: Any) -> None:
    check = b.a_check()
    sent = {"result": "call_again", "again_on": "2026-11-26", "again_time": "14:00", "note": "in a meeting"}
    page(f"checks/{check.pk}/call/", sent)
    attempt = ContactAttempt.objects.get()
    assert attempt.again_at == datetime.combine(date(2026, 11, 26), time(14), tzinfo=ours.shop.zone)
    assert "call again : in a meeting" in text_of(page(f"checks/{check.pk}/"))


def test_a_call_without_an_outcome_is_not_noted_and_the_note_stays(page: Any) -> None:
    answer = page(f"checks/{b.a_check().pk}/call/", {"note": "left keys"})
    assert b'value="left keys"' in answer.content
    assert not ContactAttempt.objects.exists()


def test_E66_the_desk_sets_all_checks_of_a_sold_vehicle_aside(page: Any) -> None:
    job = b.a_job(handed_over_on=b.days_ago(14))
    first, second = b.a_check(job), b.a_check(job, due_on=b.TODAY + timedelta(days=70))
    page(f"checks/{first.pk}/aside/", {"cause": "sold", "words": "", "all_of_vehicle": "on"})
    second.refresh_from_db()
    assert (second.state, second.state_why) == ("waived", "vehicle sold")


def test_the_week_answers_first_marks_today_and_names_closed_days(page: Any) -> None:
    ClosedDay.objects.create(on=b.TODAY + timedelta(days=1), name="Harvest Day")
    b.a_check()
    answer = page("week/")
    words = text_of(answer)
    assert "1 check still needs one." in words
    assert "Wed Nov 25 Today ." in words or "Wed Nov 25 Today." in words
    assert "Harvest Day" in words
    assert answer.content.count(b'aria-current="date"') == 1


def test_in_the_week_one_chooses_a_check_then_a_free_place(page: Any) -> None:
    check = b.a_check()
    nobody = page("week/")
    assert b'name="slot"' not in nobody.content
    chosen = page(f"week/?check={check.pk}")
    assert f"/s/kiln/checks/{check.pk}/book/".encode() in chosen.content
    assert b'value="2026-11-26T08:00/1"' in chosen.content
    booking = b.a_booking(check, on=b.TODAY + timedelta(days=1))
    moving = page(f"week/?move={booking.pk}&from=2026-11-30")
    assert f"/s/kiln/bookings/{booking.pk}/move/".encode() in moving.content
    assert b'value="2026-12-01T08:00/1"' in moving.content


@pytest.mark.parametrize("query", ["?from=2026-13-99", "?from=x", "?check=x", "?move=", "?page=0"])
def test_addresses_typed_wrong_show_a_page_all_the_same(page: Any, query: str) -> None:
    for path in ("week/", "checks/"):
        assert page(path + query).status_code == 200


def test_a_metric_shop_reads_the_24_hour_clock_and_the_week_number(world: Any, now: datetime) -> None:
    from shopwarranty.shops.scope import shop_scope

    with shop_scope(world.theirs.shop):
        check = b.a_check(due_on=b.TODAY + timedelta(days=1))
    client = world.theirs.client(world.theirs.desk)
    assert "week 48" in text_of(client.get("/s/fennel/week/"))
    assert "Book Thursday 26 November, 08:00" in text_of(client.get(f"/s/fennel/checks/{check.pk}/book/"))


def test_the_handed_over_page_leads_to_the_time_of_its_next_check(page: Any) -> None:
    job = b.a_job(handed_over_on=b.TODAY)
    actions.plan_checks(job=job, handed_over_on=b.TODAY, now=b.NOW)
    check = Check.objects.get(plan__key="two-week")
    shown = page(f"jobs/{job.pk}/handed-over/").content.decode()
    assert f'href="/s/kiln/checks/{check.pk}/book/"' in shown


def test_a_second_press_on_a_place_reads_as_booked_and_not_as_a_refusal(page: Any) -> None:
    check = b.a_check()
    sent = {"slot": "2026-11-26T10:00/1"}
    for _ in range(2):
        assert page(f"checks/{check.pk}/book/", sent).status_code == 302
    assert "Booked for Thursday, November 26" in text_of(page(f"checks/{check.pk}/"))
    assert (Booking.objects.count(), Message.objects.count()) == (1, 1)
