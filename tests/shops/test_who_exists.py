"""Neither the answer nor the work behind it says whether somebody signs in here. Counted, not timed."""

import re
from collections.abc import Iterator
from typing import Any
from unittest.mock import patch

import pytest
from argon2 import low_level
from django.contrib.auth.hashers import Argon2PasswordHasher
from django.core import mail
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from shopwarranty.shops.models import User

pytestmark = pytest.mark.django_db
RIGHT = "three quiet hinges"


class Work:
    """How often Argon2 was really computed."""

    def __init__(self) -> None:
        self.times = 0

    @property
    def since(self) -> int:
        times, self.times = self.times, 0
        return times


@pytest.fixture
def work() -> Iterator[Work]:
    counted = Work()
    compute, verify = low_level.hash_secret, low_level.verify_secret

    def count(real: Any) -> Any:
        def call(*args: Any, **more: Any) -> Any:
            counted.times += 1
            return real(*args, **more)

        return call

    with (
        patch("argon2.low_level.hash_secret", count(compute)),
        patch("argon2.low_level.verify_secret", count(verify)),
        patch("argon2._password_hasher.verify_secret", count(verify)),
        patch("argon2._password_hasher.hash_secret", count(compute)),
    ):
        yield counted


@pytest.fixture
def people(db: None) -> dict[str, str]:
    User.objects.create_user("known@kiln.example", RIGHT)
    User.objects.create_user("left@kiln.example", RIGHT, is_active=False)
    User.objects.create_user("invited@kiln.example", None)
    return {"unknown": "nobody@kiln.example", "known": "known@kiln.example",
            "inactive": "left@kiln.example", "no password": "invited@kiln.example"}  # fmt: skip


def sign_in(email: str, password: str = "a wrong one") -> Any:
    return Client().post(reverse("sign-in"), {"username": email, "password": password})


def test_a_wrong_password_costs_one_hash_whoever_is_named(people: dict[str, str], work: Work) -> None:
    assert Argon2PasswordHasher.algorithm == User.objects.first().password.split("$")[0]  # type: ignore[union-attr]
    _ = work.since
    costs = {}
    for kind, email in people.items():
        sign_in(email)
        costs[kind] = work.since
    assert costs == dict.fromkeys(people, 1)


def test_a_right_password_of_somebody_who_left_costs_and_says_the_same(
    people: dict[str, str], work: Work
) -> None:
    _ = work.since
    said = [sign_in(people[kind], RIGHT).content for kind in ("unknown", "inactive")]
    assert work.since == 2
    unknown, inactive = (
        without_token(text.replace(people[kind].encode(), b""))
        for text, kind in zip(said, ("unknown", "inactive"), strict=True)
    )
    assert unknown == inactive


def without_token(text: bytes) -> bytes:
    return re.sub(rb'(csrfmiddlewaretoken" value|nonce)="[^"]*"', b"", text)


def test_forgetting_a_password_does_the_same_before_it_answers_whoever_is_named(
    people: dict[str, str], work: Work
) -> None:
    _ = work.since
    asked: dict[str, list[str]] = {}
    for kind, email in people.items():
        client = Client()
        with (
            patch("shopwarranty.shops.views.sign_in.AnswerThenWork.close", lambda self: None),
            CaptureQueriesContext(connection) as queries,
        ):
            answer = client.post(reverse("forgot"), {"email": email})
        assert answer["Location"] == reverse("forgot-sent")
        asked[kind] = [query["sql"].split("VALUES")[0] for query in queries]
    assert asked["known"]
    assert all(sql == asked["unknown"] for sql in asked.values())
    assert not any("shops_user" in sql for sql in asked["known"])
    assert work.since == 0
    assert mail.outbox == []


def test_the_mail_leaves_when_the_answer_has_been_sent(people: dict[str, str]) -> None:
    for email in people.values():
        Client().post(reverse("forgot"), {"email": email})
    assert [message.to for message in mail.outbox] == [["known@kiln.example"]]


def test_one_address_is_written_to_a_few_times_an_hour(people: dict[str, str]) -> None:
    answers = [Client().post(reverse("forgot"), {"email": "Known@kiln.example"}) for _ in range(8)]
    assert {answer["Location"] for answer in answers} == {reverse("forgot-sent")}
    assert len(mail.outbox) == 5
