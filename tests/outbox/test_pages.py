"""What staff and operators see of messages: what waits, what takes nothing, and mails kept as files."""

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from shopwarranty.outbox import tick
from shopwarranty.outbox.actions import put_message
from shopwarranty.outbox.addresses import mark_address
from shopwarranty.outbox.delivery import deliver_due
from shopwarranty.outbox.models import Heartbeat, MarkedAddress, Message
from shopwarranty.shops.models import User
from tests.conftest import NOW, ShopPeople

FILES = "django.core.mail.backends.filebased.EmailBackend"


def put(key: str, **more: Any) -> Message:
    values: dict[str, Any] = {"to": "owner1@example.com", "subject": f"Mail {key}", "text": "See you."}
    return put_message(key=key, now=NOW, **{**values, **more})


def test_the_list_says_when_the_worker_is_silent(ours: ShopPeople) -> None:
    client = ours.client(ours.desk)
    assert "has been silent" in client.get("/s/kiln/messages/").content.decode()
    tick.beat("tick", timezone.now())
    assert "has been silent" not in client.get("/s/kiln/messages/").content.decode()
    Heartbeat.objects.update(at=timezone.now() - timedelta(minutes=6))
    assert Client().get("/health/").status_code == 503


def test_what_waits_says_when_it_goes_and_how_often_it_was_tried(ours: ShopPeople) -> None:
    put("1", not_before=NOW + timedelta(hours=20))
    Message.objects.update(attempts=2)
    shown = ours.client(ours.desk).get("/s/kiln/messages/").content.decode().replace("\u00a0", " ")
    assert "Goes out Thu Nov 26, 6:00 am, tried 2 times" in shown


def test_an_address_that_takes_nothing_shows_on_the_desk_and_is_cleared_there(ours: ShopPeople) -> None:
    mark_address(channel="mail", address="gone@example.com", source="server", why="550 no", now=NOW)
    client = ours.client(ours.desk)
    assert "One address takes nothing" in client.get("/s/kiln/messages/").content.decode()
    shown = client.get("/s/kiln/messages/addresses/").content.decode()
    assert "gone@example.com" in shown
    assert "550 no" in shown
    client.post(f"/s/kiln/messages/addresses/{MarkedAddress.objects.get().pk}/clear/")
    assert MarkedAddress.objects.get().cleared_at is not None
    assert "gone@example.com" not in client.get("/s/kiln/messages/addresses/").content.decode()


@pytest.fixture
def files(ours: ShopPeople, settings: Any) -> Path:
    settings.EMAIL_BACKEND = FILES
    put("1")
    put("2", text="Look: https://kiln.example/x <b>", html="<p>Look</p>")
    deliver_due(NOW)
    return Path(settings.EMAIL_FILE_PATH)


def operator() -> Client:
    user = User.objects.create_superuser("op@example.com", "tack and squeegee 12", name="Op")
    client = Client()
    client.force_login(user)
    return client


def test_an_operator_reads_the_mails_that_were_kept_as_files(files: Path) -> None:
    client = operator()
    shown = client.get("/mail-files/").content.decode()
    assert "Mail 1" in shown
    assert "Mail 2" in shown
    (name,) = (path.name for path in files.iterdir())
    mail = client.get(f"/mail-files/{name}/1/").content.decode()
    assert '<a href="https://kiln.example/x"' in mail
    assert "&lt;b&gt;" in mail
    assert client.get(f"/mail-files/{name}/2/").status_code == 404


@pytest.mark.parametrize("name", ["..", "secret_key", "a.txt", "x.log", ".log", "..%2Fsecret.log"])
def test_no_other_file_is_shown(files: Path, name: str) -> None:
    (files.parent / "secret.log").write_text("secret")
    assert operator().get(f"/mail-files/{name}/0/").status_code == 404


def test_for_everybody_else_there_is_no_such_page(files: Path, ours: ShopPeople, settings: Any) -> None:
    (name,) = (path.name for path in files.iterdir())
    for client in (Client(), ours.client(ours.owner)):
        assert client.get("/mail-files/").status_code == 404
        assert client.get(f"/mail-files/{name}/0/").status_code == 404
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    assert operator().get("/mail-files/").status_code == 404


def test_staff_cannot_read_a_code_that_opens_a_holders_page(ours: ShopPeople) -> None:
    """The code is a secret of its reader; with it anybody could act as the holder for a day."""
    row = put("one-time-code:7", subject="Your code: 048216", text="Your code: 048216\n\nIt works once.")
    client = ours.client(ours.desk)
    for path in ("/s/kiln/messages/", f"/s/kiln/messages/{row.pk}/"):
        shown = client.get(path).content.decode()
        assert "048216" not in shown
        assert "Your code: ••••••" in shown


def test_numbers_in_other_messages_are_read_as_they_are(ours: ShopPeople) -> None:
    row = put("other", subject="Certificate 100234")
    assert "100234" in ours.client(ours.desk).get(f"/s/kiln/messages/{row.pk}/").content.decode()
