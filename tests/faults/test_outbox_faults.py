"""What becomes of messages when something outside fails: each outcome is stated, and nothing is lost."""

import sqlite3
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from aiosmtpd.controller import Controller
from django.db import OperationalError, connection, connections
from django.test import Client
from django.utils import timezone

from shopwarranty.checkout.ports import next_free
from shopwarranty.outbox import delivery, tick
from shopwarranty.outbox.actions import put_message
from shopwarranty.outbox.models import UNCERTAIN_AFTER, Heartbeat, MarkedAddress, Message
from tests.conftest import NOW, ShopPeople
from tests.many_hands import elsewhere

KEY = "booking:1:v0:confirmed"


def put(**more: Any) -> Message:
    values = {"key": KEY, "to": "owner1@example.com", "subject": "Booked", "text": "See you."}
    return put_message(now=NOW, **(values | more))


def only() -> Message:
    message: Message = Message.objects.get(key=KEY)
    return message


class Answers:
    """A mail server in this process that gives its answers to RCPT and DATA in turn; then it takes all."""

    def __init__(self, *, rcpt: list[str] | None = None, data: list[str] | None = None) -> None:
        self.rcpt, self.data = rcpt or [], data or []
        self.taken: list[Any] = []

    async def handle_RCPT(self, server: Any, session: Any, envelope: Any, to: str, options: Any) -> str:
        if self.rcpt:
            return self.rcpt.pop(0)
        envelope.rcpt_tos.append(to)
        return "250 known"

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:
        if self.data:
            return self.data.pop(0)
        self.taken.append(envelope.content)
        return "250 taken"


@contextmanager
def served(answers: Answers, settings: Any) -> Iterator[Answers]:
    port = next_free(41025)
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT, settings.EMAIL_TIMEOUT = "127.0.0.1", port, 5
    settings.EMAIL_USE_TLS = settings.EMAIL_USE_SSL = False
    controller = Controller(answers, hostname="127.0.0.1", port=port)
    controller.start()
    try:
        yield answers
    finally:
        controller.stop()


# --- the mail server


def test_a_mailbox_that_is_full_for_now_gets_its_mail_later_and_once(ours: ShopPeople, settings: Any) -> None:
    """RFC 5321, section 4.2.1: 4yz may be tried again; 452 is too little storage (section 4.2.3)."""
    put()
    with served(Answers(rcpt=["452 full"], data=["451 local error"]), settings) as server:
        for hours in range(3):
            delivery.deliver_due(NOW + timedelta(hours=hours))
    assert (only().state, only().attempts, len(server.taken)) == ("sent", 3, 1)


def test_a_mailbox_that_does_not_exist_is_marked_and_shown(ours: ShopPeople, settings: Any) -> None:
    """RFC 5321, section 4.2.3: 550 mailbox unavailable."""
    put()
    with served(Answers(rcpt=["550 no such user"]), settings) as server:
        delivery.deliver_due(NOW)
    assert (only().state, server.taken) == ("failed", [])
    assert MarkedAddress.objects.get().address == "owner1@example.com"


def test_a_mail_refused_for_good_says_nothing_about_the_address(ours: ShopPeople, settings: Any) -> None:
    """RFC 5321, section 4.2.3: 554 transaction failed."""
    put()
    with served(Answers(data=["554 not like this"]), settings):
        delivery.deliver_due(NOW)
    assert (only().state, MarkedAddress.objects.count()) == ("failed", 0)


def test_a_refusal_in_the_middle_does_not_touch_the_others(ours: ShopPeople, settings: Any) -> None:
    for n in range(3):
        put(key=f"k{n}", to=f"owner{n}@example.com")
    with served(Answers(rcpt=["250 known", "550 no such user"]), settings):
        tally = delivery.deliver_due(NOW)
    assert tally.sent + tally.refused == 3


def test_a_mail_server_that_is_away_for_three_days_costs_no_message(ours: ShopPeople, settings: Any) -> None:
    """RFC 5321, section 4.5.4.1: the give-up time is generally at least four to five days."""
    put()
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", next_free(42025)
    moment = NOW
    while moment < NOW + timedelta(days=3):
        delivery.deliver_due(moment)
        assert only().state == "waiting"
        moment += timedelta(hours=3)
    with served(Answers(), settings) as server:
        delivery.deliver_due(moment + timedelta(hours=6))
    assert (only().state, len(server.taken)) == ("sent", 1)


# --- clocks


def test_a_clock_set_back_sends_nothing_twice_and_forgets_nothing(ours: ShopPeople, settings: Any) -> None:
    put()
    put(key="second", not_before=NOW + timedelta(minutes=5))
    with served(Answers(), settings) as server:
        delivery.deliver_due(NOW)
        for hours in (-24, -1, 0, 1):
            delivery.deliver_due(NOW + timedelta(hours=hours))
    assert len(server.taken) == 2
    assert set(Message.objects.values_list("state", flat=True)) == {"sent"}


def test_what_was_taken_up_before_the_clock_was_set_back_is_parked_once_it_is_right_again(
    ours: ShopPeople,
) -> None:
    delivery.claim(put(), NOW)
    delivery.deliver_due(NOW - timedelta(days=1))
    assert only().state == "sending"
    delivery.deliver_due(NOW + UNCERTAIN_AFTER + timedelta(seconds=1))
    assert only().state == "parked"


def test_a_sender_slower_than_it_was_waited_for_still_says_what_became_of_its_message(
    ours: ShopPeople,
) -> None:
    message = put()
    delivery.claim(message, NOW)
    delivery.deliver_due(NOW + UNCERTAIN_AFTER + timedelta(minutes=1))
    assert only().state == "parked"
    delivery.settle(message, Message.State.SENT, NOW)
    assert only().state == "sent"


def test_what_became_of_an_earlier_try_is_not_said_of_a_later_one(ours: ShopPeople) -> None:
    message = put()
    delivery.claim(message, NOW)
    Message.objects.update(state="waiting", attempts=0)  # a person sends it again
    again = only()
    assert delivery.claim(again, NOW + timedelta(hours=1))
    delivery.settle(message, Message.State.SENT, NOW)
    assert only().state == "sending"


def test_who_looked_before_another_tried_does_not_try_too(ours: ShopPeople) -> None:
    message = put()
    Message.objects.update(attempts=1, not_before=NOW + timedelta(minutes=1))  # tried meanwhile, later again
    assert not delivery.claim(message, NOW)


# --- the shop's hours


def test_a_late_message_waits_for_the_shops_hours_and_one_that_must_go_does_not(ours: ShopPeople) -> None:
    """10:00 in New York; eleven hours on it is 21:00, outside the usual 8:00 to 20:00."""
    put(in_hours=True)
    put(key="code")
    night = NOW + timedelta(hours=11)
    assert delivery.deliver_due(night).sent == 1
    waits = Message.objects.get(key=KEY)
    assert (waits.state, waits.attempts) == ("waiting", 0)
    assert waits.not_before == NOW + timedelta(hours=22)  # 8:00
    assert delivery.deliver_due(waits.not_before).sent == 1


# --- the worker


@pytest.mark.django_db
def test_the_health_page_turns_red_when_the_worker_hangs(monkeypatch: pytest.MonkeyPatch) -> None:
    tick.run(timezone.now())
    assert Client().get("/health/").json()["worker"] == "up"
    Heartbeat.objects.update(at=timezone.now() - timedelta(minutes=6))
    answer = Client().get("/health/")
    assert (answer.status_code, answer.json()["worker"]) == (503, "silent")


@pytest.mark.django_db
def test_the_command_for_cron_does_what_a_hung_worker_does_not(ours: ShopPeople) -> None:
    from django.core.management import call_command

    Heartbeat.objects.update_or_create(name="tick", defaults={"at": NOW - timedelta(days=1)})
    put()
    call_command("tick", verbosity=0)
    assert only().state == "sent"
    assert Client().get("/health/").status_code == 200


# --- the database


@pytest.mark.skipif(connection.vendor != "sqlite", reason="a lock on the whole file is SQLite's")
def test_a_locked_database_makes_the_worker_wait_and_then_all_goes_out(
    shared_database: None, settings: Any
) -> None:
    from shopwarranty.shops.scope import shop_scope
    from tests.conftest import make_shop

    def prepare() -> None:
        with shop_scope(make_shop("locked", name="Locked").shop):
            put()

    elsewhere(prepare)
    path = Path(str(connection.settings_dict["NAME"]))
    released = threading.Event()
    holder = threading.Thread(target=hold_locked, args=(path, released, 2.0))
    holder.start()
    assert released.wait(10)
    assert elsewhere(lambda: delivery.deliver_due(NOW).sent) == 1
    holder.join()


def hold_locked(path: Path, locked: threading.Event, seconds: float) -> None:
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    locked.set()
    time.sleep(seconds)
    other.execute("ROLLBACK")
    other.close()


def test_a_database_that_goes_away_while_sending_leaves_a_message_that_is_parked_and_not_resent(
    ours: ShopPeople, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The mail was taken, the row could not be written: nobody may guess."""
    put()

    def gone(*args: Any) -> None:
        raise OperationalError("the database is gone")

    with served(Answers(), settings) as server:
        with monkeypatch.context() as patched:
            patched.setattr(delivery, "settle", gone)
            with pytest.raises(OperationalError):
                delivery.deliver_due(NOW)
        assert only().state == "sending"
        for minutes in (5, 20, 60):
            delivery.deliver_due(NOW + timedelta(minutes=minutes))
    assert (only().state, len(server.taken)) == ("parked", 1)


@pytest.mark.django_db
def test_a_step_without_a_database_fails_by_itself_and_the_next_pass_works(
    ours: ShopPeople, monkeypatch: pytest.MonkeyPatch
) -> None:
    def gone(now: Any) -> None:
        raise OperationalError("the database is gone")

    put()
    with monkeypatch.context() as patched:
        patched.setattr(tick, "_steps", {"checks": tick.Step(gone)})
        patched.setattr(tick, "deliver_due", gone)
        assert not any(each.ok for each in tick.run(NOW))
    assert only().state == "waiting"
    tick.run(NOW)
    assert only().state == "sent"
    assert connections["default"].is_usable()
