"""Passwords cannot be guessed at leisure, and a refusal does not say who exists."""

from datetime import timedelta
from typing import Any

import pytest
from axes.models import AccessAttempt
from django.test import Client
from django.urls import reverse

from shopwarranty.shops.models import User

RIGHT = "three quiet hinges"
pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def somebody(settings: Any) -> User:
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    return User.objects.create_user("owner@kiln.example", RIGHT)


def sign_in(
    password: str, email: str = "owner@kiln.example", client: Client | None = None, **more: str
) -> Any:
    data = {"username": email, "password": password}
    return (client or Client()).post(reverse("sign-in"), data, headers=more)


@pytest.mark.parametrize("email", ["owner@kiln.example", "nobody@kiln.example"])
def test_after_eight_wrong_ones_the_door_is_closed_for_a_while_whoever_it_is(email: str) -> None:
    answers = [sign_in(f"wrong {n}", email).status_code for n in range(9)]
    assert answers == [200] * 7 + [429] * 2
    assert "Too many tries" in sign_in(RIGHT, email).content.decode()


def test_the_door_opens_again_and_elsewhere_it_was_never_closed(settings: Any) -> None:
    for n in range(8):
        sign_in(f"wrong {n}")
    settings.SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    assert sign_in(RIGHT, x_forwarded_for="198.51.100.7").status_code == 302
    settings.SECURE_PROXY_SSL_HEADER = None
    assert sign_in(RIGHT).status_code == 429
    for attempt in AccessAttempt.objects.all():
        AccessAttempt.objects.filter(pk=attempt.pk).update(
            attempt_time=attempt.attempt_time - timedelta(minutes=16)
        )
    assert sign_in(RIGHT).status_code == 302


def test_a_right_one_forgets_the_wrong_ones() -> None:
    for _round in range(3):
        for n in range(5):
            sign_in(f"wrong {n}")
        assert sign_in(RIGHT).status_code == 302


def test_passwords_typed_wrong_are_not_kept() -> None:
    sign_in("a wrong one that may be right elsewhere")
    assert "elsewhere" not in str(list(AccessAttempt.objects.values()))
