"""What is written to holders by itself: when, to whom, at most once, in the shop's hours.

One-click unsubscribing: RFC 8058, sections 2, 3.1 and 3.2. The rest is common practice, no source.
"""

from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest
from django.core import mail
from django.test import Client

from shopwarranty.inspections import actions
from shopwarranty.inspections.actions.offering import change_rules
from shopwarranty.inspections.models import Booking, Check, Visit
from shopwarranty.inspections.writing import kinds, steps, summary
from shopwarranty.inspections.writing.fill import as_html, as_plain, unknown_in
from shopwarranty.inspections.writing.kinds import KINDS
from shopwarranty.inspections.writing.letters import ours, write
from shopwarranty.inspections.writing.stop_links import token_for
from shopwarranty.inspections.writing.values import samples
from shopwarranty.jobs.models import Holding, Job, Party
from shopwarranty.outbox.addresses import mark_address
from shopwarranty.outbox.delivery import deliver_due
from shopwarranty.outbox.models import Message
from shopwarranty.shops.history import Actor
from shopwarranty.shops.scope import shop_scope
from tests import builders as b
from tests.conftest import ShopPeople, World

MIDNIGHT = datetime(2026, 11, 25, 5, 5, tzinfo=UTC)  # 00:05 in New York
OPENING = datetime(2026, 11, 25, 13, 0, tzinfo=UTC)  # 08:00 in New York
EARLIER = b.NOW - timedelta(days=9)


@pytest.fixture
def owner(ours: ShopPeople) -> Actor:
    return Actor.of(ours.owner)


def rules(people: ShopPeople, **values: Any) -> None:
    change_rules(shop=people.shop, values=values, actor=Actor.of(people.owner), now=b.NOW)


def said() -> list[str]:
    """What was put, without what names the row."""
    keys = Message.objects.order_by("pk").values_list("key", flat=True)
    return [":".join(key.split(":")[-2:]) for key in keys]


def booked(days: int, **more: Any) -> Booking:
    day = b.TODAY + timedelta(days=days)
    return b.a_booking(b.a_check(due_on=day), on=day, **{"booked_at": EARLIER, **more})


# --- the words


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.key)
def test_our_own_words_fill_in_only_what_their_kind_knows(kind: kinds.Kind) -> None:
    words = ours(kind, "en")
    assert unknown_in(words.subject + words.text, kind.known) == []
    assert set(kind.known) <= set(kinds.PLACEHOLDERS)


@pytest.mark.django_db
@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.key)
def test_every_message_to_a_holder_says_that_a_check_is_an_offer(ours: ShopPeople, kind: kinds.Kind) -> None:
    from shopwarranty.inspections.writing.letters import Wording

    bare = Wording("S", "Nothing of the kind.")
    letter = write(kind, bare, samples(ours.shop, b.TODAY), ours.shop, language="en")
    offers = ["does not end your warranty" in text for text in (letter.text, letter.html)]
    assert offers == [not kind.to_owner] * 2


def test_nothing_in_a_text_or_a_value_is_run_or_becomes_mark_up() -> None:
    text = "{name} {{name}} {name.__class__} {0} {% now %} <b>x</b>\n\n- {name}\n- **two**"
    values = {"name": "<i>{link}</i> **x**", "link": "secret"}
    assert as_html(text, values) == (
        "<p>&lt;i&gt;{link}&lt;/i&gt; **x** {&lt;i&gt;{link}&lt;/i&gt; **x**} {name.__class__} {0} {% now %} "
        "&lt;b&gt;x&lt;/b&gt;</p>\n<ul><li>&lt;i&gt;{link}&lt;/i&gt; **x**</li><li><b>two</b></li></ul>"
    )
    assert as_plain("**{name}** {name!r}", {"name": "A"}) == "A {name!r}"


def test_addresses_become_links_and_nothing_else_does() -> None:
    html = as_html("{link} javascript:x", {"link": 'https://a.example/"onclick=x'})
    assert '<a href="https://a.example/">' in html or '<a href="https://a.example/&quot;onclick=x">' in html
    assert html.count("<a ") == 1


# --- time to book


def test_a_time_is_offered_once_when_the_window_opens(ours: ShopPeople) -> None:
    check = b.a_check(due_on=b.TODAY + timedelta(days=7))  # its window opens today
    b.a_check(due_on=b.TODAY + timedelta(days=8))
    assert [steps.offer_checks(b.NOW) for _ in range(2)] == [1, 0]
    message = Message.objects.get()
    assert message.key == f"check:{check.pk}:20261125:offer"
    assert message.is_optional
    assert "/your-film/" in message.text and "/your-film/" in message.html
    check.refresh_from_db()
    assert check.offered_at == b.NOW


def test_at_night_what_is_due_waits_for_the_shops_hours(ours: ShopPeople) -> None:
    b.a_check()
    steps.offer_checks(MIDNIGHT)
    assert Message.objects.get().not_before == OPENING


def test_the_day_is_the_shops_own(world: World) -> None:
    """06:05 in Berlin, 00:05 in New York; an hour before it is still yesterday there."""
    for people in (world.ours, world.theirs):
        with shop_scope(people.shop):
            b.a_check(due_on=b.TODAY + timedelta(days=7))
    assert steps.offer_checks(MIDNIGHT - timedelta(hours=1)) == 1
    assert steps.offer_checks(MIDNIGHT) == 1


@pytest.mark.parametrize("state", ["done", "missed", "waived"])
def test_nobody_is_asked_about_a_check_that_is_settled(ours: ShopPeople, state: str) -> None:
    b.a_check(state=state, settled_at=b.NOW)
    assert steps.offer_checks(b.NOW) == 0


def test_nobody_is_asked_for_a_time_that_there_is_or_while_the_vehicle_is_here(ours: ShopPeople) -> None:
    b.a_booking(b.a_check(), on=b.TODAY + timedelta(days=2))
    here = b.a_check()
    b.a_visit(here.job, finished=False, check_due=here)
    b.a_check(plan=b.a_plan("own", offered_to_holder=False))
    assert steps.offer_checks(b.NOW) == 0


def test_an_import_writes_to_nobody_about_windows_that_were_open(ours: ShopPeople) -> None:
    old, new = b.a_check(), b.a_check()
    Job.objects.filter(pk=old.job_id).update(imported_at=b.NOW)
    Job.objects.filter(pk=new.job_id).update(imported_at=b.NOW - timedelta(days=8))
    assert steps.offer_checks(b.NOW) == 1
    assert Message.objects.get().about == f"check:{new.pk}"


def test_booked_meanwhile_the_offer_does_not_go_out(ours: ShopPeople) -> None:
    from shopwarranty.inspections.slots import slot_at

    check = b.a_check()
    steps.offer_checks(MIDNIGHT)
    slot = slot_at(
        datetime.combine(date(2026, 11, 26), time(10)), zone=ours.shop.time_zone, minutes=45, lane=1
    )
    actions.book_check(check=check, slot=slot, actor=Actor.of(ours.desk), now=MIDNIGHT)
    assert list(Message.objects.order_by("pk").values_list("state", flat=True)) == ["dropped", "waiting"]


def test_E66_set_aside_nobody_is_asked_for_a_time_any_more(ours: ShopPeople) -> None:
    check = b.a_check()
    steps.offer_checks(MIDNIGHT)
    actions.waive_check(check=check, why="sold", actor=Actor.of(ours.desk), now=MIDNIGHT)
    assert Message.objects.get().state == "dropped"


# --- whom


def test_who_stopped_reminders_or_has_no_address_gets_none(ours: ShopPeople) -> None:
    for more in ({"reminders_stopped_at": b.NOW}, {"email": ""}, {"email_refused_at": b.NOW}):
        vehicle = b.a_vehicle(holder=b.a_holder(**more))
        b.a_check(b.a_job(vehicle=vehicle, handed_over_on=b.days_ago(14)))
    assert steps.offer_checks(b.NOW) == 0
    assert not Check.objects.filter(offered_at=None).exists(), "asked about once, not every minute"


def test_the_contact_is_written_to_before_the_holder_in_his_own_language(ours: ShopPeople) -> None:
    check = b.a_check()
    driver = b.a_holder("D. Driver", email="driver@example.com", language="de")
    Holding.objects.create(vehicle=check.job.vehicle, party=driver, role="contact", since=b.days_ago(5))
    steps.offer_checks(b.NOW)
    message = Message.objects.get()
    assert (message.to, message.language) == ("driver@example.com", "de")
    assert 'lang="de"' in message.html


def test_without_mail_a_text_message_goes_where_the_shop_wants_it_and_there_is_a_way(
    ours: ShopPeople, settings: Any
) -> None:
    vehicle = b.a_vehicle(holder=b.a_holder(email=""))
    b.a_check(b.a_job(vehicle=vehicle, handed_over_on=b.days_ago(14)))
    rules(ours, text_without_mail=True)
    settings.TEXT_HOOK_URL, settings.TEXT_HOOK_HOSTS = "https://texts.example/", ["texts.example"]
    settings.TEXT_HOOK_SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
    assert steps.offer_checks(b.NOW) == 1
    message = Message.objects.get()
    assert (message.channel, message.to) == ("text", "555-0142")
    assert "does not end your warranty" in message.text
    assert len(message.text) < 400


def test_E67_a_marked_address_is_said_on_the_person_and_not_written_to(ours: ShopPeople) -> None:
    check = b.a_check()
    address = check.job.vehicle.holdings.get().party.email
    mark_address(channel="mail", address=address.upper(), source="reported", why="", now=b.NOW)
    assert Party.objects.get().email_refused_at == b.NOW
    assert steps.offer_checks(b.NOW) == 0


# --- reminders


@pytest.mark.parametrize(
    ("days", "told"),
    [(0, []), (1, ["reminder:1d"]), (2, ["reminder:3d"]), (3, ["reminder:3d"]), (4, []), (7, [])],
)
def test_reminders_go_three_days_before_and_on_the_morning_before(
    ours: ShopPeople, days: int, told: list[str]
) -> None:
    booked(days, hour=14) if days else booked(days, hour=20, reminded_late_at=EARLIER)
    steps.remind(MIDNIGHT)
    steps.remind(b.NOW)
    assert said() == told
    assert all(each.not_before == OPENING for each in Message.objects.all())


def test_each_reminder_goes_once_and_a_moved_appointment_has_its_own(ours: ShopPeople) -> None:
    from shopwarranty.inspections.slots import slot_at

    booking = booked(6)
    for day in range(7):
        for _ in range(2):
            steps.remind(b.NOW + timedelta(days=day))
    assert said() == ["reminder:3d", "reminder:1d"]
    again = booked(6, lane=2)
    slot = slot_at(datetime.combine(date(2026, 12, 2), time(9)), zone=ours.shop.time_zone, minutes=45, lane=1)
    moved = actions.move_booking(booking=again, slot=slot, actor=Actor.of(ours.desk), now=b.NOW)
    for day in range(8):
        steps.remind(b.NOW + timedelta(days=day))
    keys = set(Message.objects.filter(about=f"booking:{moved.uid.hex}").values_list("key", flat=True))
    assert {key.split(":", 2)[2] for key in keys} == {"v1:moved", "v1:reminder:3d", "v1:reminder:1d"}
    assert booking.uid != moved.uid


def test_who_has_just_booked_is_not_reminded_at_once(ours: ShopPeople) -> None:
    booked(3, booked_at=b.NOW - timedelta(hours=1))
    booked(1, hour=18, booked_at=b.NOW - timedelta(hours=1))
    assert steps.remind(b.NOW) == 0
    assert steps.remind(b.NOW + timedelta(days=2)) == 1, "tomorrow's is still to come for the first"


def test_a_worker_that_stood_still_reminds_late_rather_than_never(ours: ShopPeople) -> None:
    booking = booked(0, hour=20)
    assert steps.remind(b.NOW) == 1
    assert said() == ["reminder:1d"]
    assert Message.objects.get().not_after == booking.starts_at


def test_where_sunday_keeps_silent_mondays_reminder_goes_on_saturday(ours: ShopPeople) -> None:
    rules(ours, send_weekdays="012345")
    booked(5)  # Monday
    saturday = b.NOW + timedelta(days=3)
    steps.remind(saturday - timedelta(days=1))
    steps.remind(saturday)
    steps.remind(saturday + timedelta(days=1))
    assert said() == ["reminder:3d", "reminder:1d"]
    late = Message.objects.latest("pk")
    assert late.put_at == saturday


def test_a_reminder_of_an_appointment_called_off_does_not_go_out(ours: ShopPeople) -> None:
    booking = booked(1)
    steps.remind(MIDNIGHT)
    actions.cancel_booking(booking=booking, by_holder=True, actor=Actor.of(ours.desk), now=MIDNIGHT)
    deliver_due(b.NOW)
    assert not any("Reminder" in each.subject for each in mail.outbox)


def test_a_kind_that_is_off_is_not_written(ours: ShopPeople) -> None:
    rules(ours, silent=["reminder_1d", "offer"])
    booked(1)
    b.a_check()
    assert (steps.remind(b.NOW), steps.offer_checks(b.NOW)) == (0, 0)


# --- nobody came, and what was seen


def missed(check: Check, days: int, **more: Any) -> Booking:
    return b.a_booking(
        check, on=b.days_ago(days), state="not_kept", **{"changed_at": b.NOW - timedelta(hours=2), **more}
    )


def test_E57_who_did_not_come_is_asked_for_a_new_time_an_hour_later_and_once(ours: ShopPeople) -> None:
    missed(b.a_check(), 1)
    missed(b.a_check(), 1, changed_at=b.NOW - timedelta(minutes=59), lane=2)
    assert [steps.say_missed(b.NOW) for _ in range(2)] == [1, 0]
    assert "Pick a new time" in Message.objects.get().text


@pytest.mark.parametrize(("times", "told"), [(1, 1), (2, 1), (3, 0)])
def test_E57_after_as_many_times_as_the_shop_says_nobody_is_asked_any_more(
    ours: ShopPeople, times: int, told: int
) -> None:
    rules(ours, offers_at_most=2)
    check = b.a_check()
    for n in range(times - 1):
        missed(check, 5 + n, missed_said_at=EARLIER)
    missed(check, 1)
    assert steps.say_missed(b.NOW) == told
    assert Check.objects.get().state == "due"


def test_who_has_a_new_time_or_was_here_after_all_is_not_asked(ours: ShopPeople) -> None:
    check = b.a_check()
    missed(check, 1)
    b.a_booking(check, on=b.TODAY + timedelta(days=2))
    missed(b.a_check(state="done", settled_at=b.NOW), 1, lane=2)
    assert steps.say_missed(b.NOW) == 0


def looked(result: dict[str, int], **more: Any) -> Visit:
    check = b.a_check()
    visit = b.looked_at(check.job, b.TODAY, result, check_due=check, **more)
    Visit.objects.filter(pk=visit.pk).update(finished_at=b.NOW - timedelta(hours=2))
    return visit


def test_what_was_seen_is_told_an_hour_later_and_says_what_was_not_looked_at(ours: ShopPeople) -> None:
    visit = looked({"window": 3})
    unseen = visit.findings.filter(result="clean").first()
    assert unseen is not None
    assert [steps.say_results(b.NOW) for _ in range(2)] == [1, 0]
    text = Message.objects.get().text
    assert "at one of them something is not right" in text
    assert "all clean" not in text


def test_nothing_is_told_of_the_look_at_handover_or_of_photos(ours: ShopPeople) -> None:
    looked({}, is_handover_look=True)
    looked({}, by_photo=True)
    assert steps.say_results(b.NOW) == 0


# --- the owners' week


def test_owners_get_last_weeks_figures_once_from_monday_on(ours: ShopPeople) -> None:
    monday = datetime(2026, 11, 30, 15, tzinfo=UTC)
    b.a_check(state="done", settled_at=b.NOW)
    b.a_check(due_on=b.days_ago(2))
    assert summary.summarise(monday - timedelta(hours=9)) == 0, "01:00 in New York"
    assert [summary.summarise(monday) for _ in range(2)] == [2, 0], "one owner in each shop"
    message = Message.objects.get()
    assert message.to == "owner@kiln.example"
    assert "checks done: 1" in message.text and "overdue: 1" in message.text
    assert "<li>checks done: 1</li>" in message.html
    assert summary.summarise(monday + timedelta(days=3)) == 0, "on Thursday it is no news"


def test_a_pass_asks_as_often_for_forty_as_for_four(
    ours: ShopPeople, django_assert_max_num_queries: Any
) -> None:
    counts = []
    for more in (4, 40):
        for n in range(more):
            b.a_check()
            booked(1, lane=n + 1, hour=14 if more == 4 else 18)
        with django_assert_max_num_queries(60) as captured:
            steps.offer_checks(b.NOW)
            steps.remind(b.NOW)
        counts.append(len(captured))
    assert counts[0] == counts[1]
    assert Message.objects.count() == 88


# --- stopping (RFC 8058)


@pytest.fixture
def party(ours: ShopPeople) -> Any:
    b.a_check()
    steps.offer_checks(b.NOW)
    return Party.objects.get()


def stop_path(party: Party) -> str:
    return f"/stop/{token_for(party)}/"


def stopped(party: Party) -> bool:
    party.refresh_from_db()
    return party.reminders_stopped_at is not None


def test_rfc8058_3_1_a_reminder_carries_one_https_address_and_the_pair(party: Party) -> None:
    deliver_due(b.NOW)
    head = mail.outbox[0].extra_headers
    assert head["List-Unsubscribe"] == f"<https://kiln.example{stop_path(party)}>"
    assert head["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"


def test_what_the_contract_needs_carries_neither(ours: ShopPeople) -> None:
    from shopwarranty.inspections.slots import slot_at

    slot = slot_at(
        datetime.combine(date(2026, 11, 26), time(10)), zone=ours.shop.time_zone, minutes=45, lane=1
    )
    actions.book_check(check=b.a_check(), slot=slot, actor=Actor.of(ours.desk), now=b.NOW)
    message = Message.objects.get()
    assert (message.headers, message.is_optional) == ({}, False)


@pytest.mark.parametrize("kind", ["application/x-www-form-urlencoded", "multipart/form-data; boundary=x"])
def test_rfc8058_3_2_a_post_alone_stops_without_cookie_token_of_ours_or_redirect(
    party: Party, kind: str
) -> None:
    body = "List-Unsubscribe=One-Click"
    if kind.startswith("multipart"):
        body = '--x\r\nContent-Disposition: form-data; name="List-Unsubscribe"\r\n\r\nOne-Click\r\n--x--\r\n'
    client = Client(enforce_csrf_checks=True)
    for _ in range(2):
        answer = client.post(stop_path(party), body, content_type=kind)
        assert answer.status_code == 200
        assert stopped(party)
    assert Message.objects.get().state == "dropped", "what still waited does not go out"


def test_rfc8058_looking_at_the_address_changes_nothing(party: Party) -> None:
    for method in ("get", "head"):
        assert getattr(Client(), method)(stop_path(party)).status_code == 200
    assert not stopped(party)
    assert "Stop reminders" in Client().get(stop_path(party)).content.decode()


def test_stopped_reminders_can_be_asked_for_again(party: Party) -> None:
    Client().post(stop_path(party))
    Client().post(stop_path(party), {"act": "resume"})
    assert not stopped(party)


def test_a_changed_or_foreign_token_stops_nobody_and_tells_nothing(party: Party) -> None:
    from django.core import signing

    good = token_for(party)
    other_scope = signing.dumps([party.shop_id, party.pk, "everything"], salt="inspections.stop")
    other_salt = signing.dumps([party.shop_id, party.pk, "reminders"], salt="other")
    unknown = signing.dumps([party.shop_id, 10**9, "reminders"], salt="inspections.stop")
    answers = {
        Client().post(f"/stop/{token}/").content
        for token in (good[:-1], "x", other_scope, other_salt, unknown)
    }
    assert len(answers) == 1
    assert not stopped(party)


def test_hours_of_the_day_are_the_shops(ours: ShopPeople) -> None:
    rules(ours, send_from=time(9), send_until=time(10), send_weekdays="4")
    b.a_check()
    steps.offer_checks(b.NOW)
    assert Message.objects.get().not_before == datetime(2026, 11, 27, 14, tzinfo=UTC)
    assert date(2026, 11, 27).weekday() == 4
