"""Nobody is told twice, nothing is lost silently."""

import smtplib
from datetime import timedelta
from typing import Any

import pytest
from django.core import mail

from shopwarranty.outbox import delivery, tick
from shopwarranty.outbox.actions import Attachment, drop_waiting, put_message, send_again
from shopwarranty.outbox.channels import mail as mail_channel
from shopwarranty.outbox.models import Heartbeat, Message
from shopwarranty.shops import stored_bytes
from shopwarranty.shops.history import Actor
from tests.conftest import NOW, ShopPeople


def put(**more: Any) -> Message:
    values = {
        "key": "booking:1:v0:confirmed",
        "to": "owner1@example.com",
        "subject": "Booked",
        "text": "See you.",
    }
    return put_message(now=NOW, **(values | more))


class Server:
    """A mail server that answers as told."""

    def __init__(self, answer: Exception | None = None, closed: Exception | None = None) -> None:
        self.answer, self.closed = answer, closed
        self.got: list[Any] = []

    def open(self) -> None:
        if self.closed:
            raise self.closed

    def close(self) -> None: ...

    def send_messages(self, messages: list[Any]) -> int:
        if self.answer:
            raise self.answer
        self.got += messages
        return len(messages)


def answer_with(monkeypatch: pytest.MonkeyPatch, server: Server) -> Server:
    monkeypatch.setattr(mail_channel, "get_connection", lambda: server)
    return server


def state() -> str:
    return Message.objects.get().state


def test_the_same_fact_put_twice_is_one_message(ours: ShopPeople) -> None:
    put()
    put(text="other words")
    assert Message.objects.get().text == "See you."


def test_a_message_goes_out_once_however_often_the_worker_looks(ours: ShopPeople) -> None:
    put()
    assert delivery.deliver_due(NOW).sent == 1
    assert delivery.deliver_due(NOW).sent == 0
    assert len(mail.outbox) == 1 and mail.outbox[0].extra_headers["Auto-Submitted"] == "auto-generated"


def test_nothing_goes_out_before_its_time(ours: ShopPeople) -> None:
    put(not_before=NOW + timedelta(hours=1))
    assert delivery.deliver_due(NOW).sent == 0
    assert delivery.deliver_due(NOW + timedelta(hours=1)).sent == 1


def test_a_reminder_that_is_too_late_is_dropped(ours: ShopPeople) -> None:
    put(not_after=NOW - timedelta(minutes=1))
    assert delivery.deliver_due(NOW).stale == 1
    assert state() == "dropped"


def test_a_message_claimed_by_another_sender_is_left_alone(ours: ShopPeople) -> None:
    message = put()
    assert delivery.claim(message, NOW)
    assert not delivery.claim(message, NOW)


def test_an_unreachable_server_means_later_with_growing_pauses(
    ours: ShopPeople, monkeypatch: pytest.MonkeyPatch
) -> None:
    answer_with(monkeypatch, Server(closed=ConnectionRefusedError("no")))
    put()
    assert delivery.deliver_due(NOW).later == 1
    message = Message.objects.get()
    assert (message.state, message.attempts) == ("waiting", 1)
    assert message.not_before == NOW + delivery.BACK_OFF[0]


def test_after_five_tries_a_message_is_shown_as_refused(
    ours: ShopPeople, monkeypatch: pytest.MonkeyPatch
) -> None:
    answer_with(monkeypatch, Server(closed=ConnectionRefusedError("no")))
    put()
    moment = NOW
    for _ in range(delivery.TRIES):
        delivery.deliver_due(moment)
        moment += timedelta(days=1)
    assert state() == "failed"


def test_a_connection_lost_while_sending_is_parked_and_never_resent_by_itself(
    ours: ShopPeople, monkeypatch: pytest.MonkeyPatch
) -> None:
    answer_with(monkeypatch, Server(answer=smtplib.SMTPServerDisconnected("gone")))
    put()
    assert delivery.deliver_due(NOW).unknown == 1
    server = answer_with(monkeypatch, Server())
    assert delivery.deliver_due(NOW + timedelta(days=2)).sent == 0
    assert state() == "parked" and not server.got


def test_a_temporary_answer_means_later_and_a_final_one_means_refused(
    ours: ShopPeople, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Reply codes 4yz are transient, 5yz permanent: RFC 5321, section 4.2.1."""
    answer_with(monkeypatch, Server(answer=smtplib.SMTPDataError(451, b"try later")))
    put()
    assert delivery.deliver_due(NOW).later == 1
    answer_with(monkeypatch, Server(answer=smtplib.SMTPDataError(550, b"no such box")))
    assert delivery.deliver_due(NOW + timedelta(hours=1)).refused == 1


def test_a_sender_that_died_leaves_a_parked_message_that_a_person_may_send_again(ours: ShopPeople) -> None:
    message = put()
    delivery.claim(message, NOW)
    delivery.deliver_due(NOW + timedelta(minutes=16))
    message.refresh_from_db()
    assert message.state == "parked"
    send_again(message=message, actor=Actor.of(ours.desk), now=NOW + timedelta(hours=1))
    assert delivery.deliver_due(NOW + timedelta(hours=1)).sent == 1


def test_an_attachment_is_sent_from_its_stored_bytes_and_a_damaged_one_is_not(ours: ShopPeople) -> None:
    kept = stored_bytes.keep(b"%PDF-1.7 certificate")
    put(attachments=[Attachment(kept.sha256, "certificate.pdf", "application/pdf")])
    put(key="other", attachments=[Attachment("0" * 64, "lost.pdf", "application/pdf")])
    tally = delivery.deliver_due(NOW)
    assert (tally.sent, tally.refused) == (1, 1)
    assert mail.outbox[0].attachments[0][1] == b"%PDF-1.7 certificate"


def test_what_is_no_longer_true_is_dropped_before_it_goes_out(ours: ShopPeople) -> None:
    put(key="booking:1:v0:reminder:3d", about="booking:1")
    assert drop_waiting(key_starts="booking:1:v0:", now=NOW) == 1
    assert delivery.deliver_due(NOW).sent == 0


def test_header_text_cannot_smuggle_in_another_header(ours: ShopPeople) -> None:
    put(subject="Hello\r\nBcc: everybody@example.com")
    delivery.deliver_due(NOW)
    assert mail.outbox[0].subject == "Hello Bcc: everybody@example.com"


@pytest.mark.django_db
def test_a_failing_step_neither_stops_nor_hides_the_others(monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[str] = []

    def broken(now: Any) -> None:
        raise ValueError("bad row")

    monkeypatch.setattr(
        tick, "_steps", {"broken": tick.Step(broken), "sound": tick.Step(lambda now: seen.append("ran"))}
    )
    results = tick.run(NOW)
    assert [(r.name, r.ok) for r in results] == [("broken", False), ("sound", True), ("messages", True)]
    assert seen == ["ran"] and Heartbeat.objects.get(name="tick").note == "failed: broken"
