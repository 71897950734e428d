"""What is logged names nobody: no mail address, name, private token or query string, whatever goes wrong.

Read from the handler that the settings install, at the level they set.
"""

import io
import logging
import re
from collections.abc import Iterator
from typing import Any

import pytest
from django.db import IntegrityError
from django.test import Client
from django.urls import reverse

from shopwarranty.outbox import tick
from shopwarranty.outbox.actions import put_message
from shopwarranty.web.log_lines import NamesNobody
from tests import builders as b
from tests.conftest import NOW, ShopPeople
from tests.inspections.test_holder import link_to

NAME, MAIL, ASKED = "Prue Holder-Example", "prue@holder.example", "7FN-example"
PLATE_IN_PG = f"duplicate key\nDETAIL:  Key (name, email)=({NAME}, {MAIL}) already exists."


@pytest.fixture
def logged() -> Iterator[io.StringIO]:
    (handler,) = [
        each
        for each in logging.getLogger().handlers
        if isinstance(each, logging.StreamHandler) and isinstance(each.formatter, NamesNobody)
    ]
    told = io.StringIO()
    before = handler.setStream(told)
    yield told
    if before is not None:
        handler.setStream(before)


def fails(*args: object, **more: object) -> None:
    raise IntegrityError(PLATE_IN_PG)


def holds_nobody(text: str) -> bool:
    parts = (NAME, MAIL, "owner@kiln.example", ASKED, "holder.example")
    return not [part for part in parts if part in text]


def test_a_page_that_is_not_there_or_refuses_is_logged_by_its_pattern(
    ours: ShopPeople, logged: io.StringIO
) -> None:
    private = link_to(b.a_check())
    token = private.split("/")[2]
    owner, desk = ours.client(ours.owner), ours.client(ours.desk)
    asked = [
        Client().get(f"{private}nowhere/?q={ASKED}"),
        Client().get(f"/certificate/0000-{ASKED}/{MAIL}/"),
        Client().get(f"/{ASKED}?mail={MAIL}"),
        owner.get(f"/s/kiln/jobs/999999/?q={ASKED}"),
        desk.get(reverse("shop-settings", args=["kiln"])),
        Client(enforce_csrf_checks=True).post(reverse("sign-in"), {"username": MAIL}),
    ]
    assert [answer.status_code for answer in asked] == [404, 404, 404, 404, 403, 403]
    text = logged.getvalue()
    assert "/s/<slug:shop>/jobs/<int:pk>/" in text
    assert token not in text and holds_nobody(text), text


def test_what_breaks_is_logged_with_its_way_and_without_the_row_that_broke_it(
    ours: ShopPeople, logged: io.StringIO, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("shopwarranty.shops.views.people.render", fails)
    client = ours.client(ours.owner)
    client.raise_request_exception = False
    assert client.get(reverse("members", args=["kiln"]), {"q": ASKED}).status_code == 500
    text = logged.getvalue()
    assert "Traceback" in text and "IntegrityError: duplicate key" in text and "DETAIL: <left out>" in text
    assert holds_nobody(text), text


def test_wrong_passwords_are_logged_without_the_name_that_was_tried(
    ours: ShopPeople, logged: io.StringIO, settings: Any
) -> None:
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    form = {"username": MAIL, "password": ASKED}
    assert [Client().post(reverse("sign-in"), form).status_code for _ in range(8)][-1] == 429
    assert "AXES" in logged.getvalue()
    assert holds_nobody(logged.getvalue()), logged.getvalue()


def test_who_comes_in_who_is_refused_and_who_leaves_is_logged_by_number_in_one_line_of_utc(
    ours: ShopPeople, logged: io.StringIO, settings: Any
) -> None:
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    user = ours.desk.user
    user.set_password(ASKED)
    user.save()
    client = Client()
    client.post(reverse("sign-in"), {"username": user.email, "password": "wrong"})
    client.post(reverse("sign-in"), {"username": user.email, "password": ASKED})
    client.get(reverse("shop-settings", args=["kiln"]))
    client.post(reverse("sign-out"))
    lines = [line for line in logged.getvalue().splitlines() if "shopwarranty.security" in line]
    assert [line.split("shopwarranty.security: ")[1] for line in lines] == [
        "sign-in refused",
        f"signed in: user {user.pk}",
        f"refused: member {ours.desk.pk} at /s/<slug:shop>/settings/",
        f"signed out: user {user.pk}",
    ]
    assert all(re.match(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z ", line) for line in lines)


def test_a_message_cannot_begin_a_line_of_its_own(logged: io.StringIO) -> None:
    logging.getLogger("django.request").warning("Not Found: %s", "/x\n2026-01-01 signed in: user 1\r")
    assert logged.getvalue().count("\n") == 1


def test_a_mail_that_cannot_be_sent_and_a_step_that_fails_name_nobody(
    ours: ShopPeople, logged: io.StringIO, monkeypatch: pytest.MonkeyPatch
) -> None:
    put_message(key="k", to=MAIL, to_name=NAME, subject=f"For {NAME}", text=NAME, now=NOW)
    monkeypatch.setattr("shopwarranty.outbox.channels.mail.MailChannel.send", fails)
    monkeypatch.setattr(tick, "_steps", dict(tick._steps))
    tick.add_step("a step", fails)
    tick.run(NOW)
    text = logged.getvalue()
    assert "step a step of the tick failed" in text and "could not be sent" in text
    assert holds_nobody(text), text
