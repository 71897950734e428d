"""The second step of signing in: one-time codes by RFC 6238, checked here with the standard library alone."""

import base64
import hashlib
import hmac
import re
import struct
import time
from datetime import timedelta
from typing import Any

import pytest
from django.conf import settings
from django.contrib.auth.tokens import default_token_generator
from django.db.models import F
from django.test import Client
from django.urls import reverse
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode
from django_otp.plugins.otp_static.models import StaticDevice, StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from shopwarranty.shops import second_step
from shopwarranty.shops.models import User
from tests.conftest import World

RIGHT = "three quiet hinges"
STEP = 30
pytestmark = pytest.mark.django_db


def one_time_code(secret: str, at: float) -> str:
    """RFC 4226, 5.3 (dynamic truncation) over the time steps of RFC 6238, 4.2."""
    key = base64.b32decode(secret.replace(" ", "") + "=" * (-len(secret.replace(" ", "")) % 8))
    digest = hmac.new(key, struct.pack(">Q", int(at) // STEP), hashlib.sha1).digest()
    offset = digest[-1] & 15
    return f"{(struct.unpack('>I', digest[offset : offset + 4])[0] & 0x7FFFFFFF) % 10**6:06d}"


def test_codes_are_those_of_the_standard() -> None:
    """RFC 6238, appendix B (SHA-1 rows, last six digits); the secret is ASCII 12345678901234567890."""
    secret = base64.b32encode(b"12345678901234567890").decode()
    table = {59: "287082", 1111111109: "081804", 1234567890: "005924", 20000000000: "353130"}
    assert {at: one_time_code(secret, at) for at in table} == table


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """A clock that stands, at which no code is used twice: every look at it is a step later when wanted."""
    now = [time.time()]
    monkeypatch.setattr("time.time", lambda: now[0])
    return now


@pytest.fixture
def somebody(settings: Any, world: World) -> User:
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    user: User = world.ours.owner.user
    user.set_password(RIGHT)
    user.save()
    return user


def sign_in(client: Client, user: User) -> Any:
    return client.post(reverse("sign-in"), {"username": user.email, "password": RIGHT})


def set_up(user: User, clock: list[float]) -> tuple[str, list[str]]:
    """By the pages; gives the secret and the recovery codes."""
    client = Client()
    client.force_login(user)
    page = client.get(reverse("second-step-set-up")).content.decode()
    found = re.search(r"<strong>([A-Z2-7 ]+)</strong>", page)
    assert found
    shown = client.post(reverse("second-step-set-up"), {"code": one_time_code(found[1], clock[0])})
    codes = re.findall(r"<code>([0-9a-f ]+)</code>", shown.content.decode())
    clock[0] += STEP
    return found[1], codes


def later(clock: list[float]) -> None:
    """Five minutes later; how long a wrong code has to be waited for is kept in the database."""
    clock[0] += 10 * STEP
    for devices in (TOTPDevice.objects, StaticDevice.objects):
        devices.exclude(throttling_failure_timestamp=None).update(
            throttling_failure_timestamp=F("throttling_failure_timestamp") - timedelta(seconds=10 * STEP)
        )


def is_in(client: Client) -> bool:
    return client.get("/s/kiln/").status_code == 200


def test_with_a_second_step_the_password_alone_opens_nothing(somebody: User, clock: list[float]) -> None:
    secret, codes = set_up(somebody, clock)
    assert len(set(codes)) == 10
    client = Client()
    assert sign_in(client, somebody)["Location"] == reverse("second-step")
    assert not is_in(client)
    client.post(reverse("second-step"), {"code": "000000"})
    assert not is_in(client)
    later(clock)
    client.post(reverse("second-step"), {"code": one_time_code(secret, clock[0])})
    assert is_in(client)


def test_a_code_works_once(somebody: User, clock: list[float]) -> None:
    secret, _codes = set_up(somebody, clock)
    code = one_time_code(secret, clock[0])
    for expected in (True, False):
        client = Client()
        sign_in(client, somebody)
        client.post(reverse("second-step"), {"code": code})
        assert is_in(client) is expected


def test_wrong_codes_make_the_next_wait(somebody: User, clock: list[float]) -> None:
    """The right one, too, while the wait lasts: else all million codes could be tried."""
    secret, _codes = set_up(somebody, clock)
    client = Client()
    sign_in(client, somebody)
    for _each in range(6):
        client.post(reverse("second-step"), {"code": "123123"})
    client.post(reverse("second-step"), {"code": one_time_code(secret, clock[0])})
    assert not is_in(client)


def test_a_recovery_code_works_once_and_new_ones_end_the_old(somebody: User, clock: list[float]) -> None:
    secret, codes = set_up(somebody, clock)
    for expected in (True, False):
        client = Client()
        sign_in(client, somebody)
        client.post(reverse("second-step"), {"code": codes[0]})
        assert is_in(client) is expected
    later(clock)
    client = Client()
    client.force_login(somebody)
    client.post(reverse("second-step-set-up"), {"code": one_time_code(secret, clock[0]), "act": "codes"})
    assert StaticToken.objects.count() == 10
    assert not StaticToken.objects.filter(token=codes[1].replace(" ", "")).exists()


def test_the_password_is_forgotten_after_ten_minutes(somebody: User, clock: list[float]) -> None:
    secret, _codes = set_up(somebody, clock)
    client = Client()
    sign_in(client, somebody)
    clock[0] += 601
    answer = client.post(reverse("second-step"), {"code": one_time_code(secret, clock[0])})
    assert answer["Location"] == reverse("sign-in")
    assert not is_in(client)


def test_a_new_password_by_mail_is_no_second_step(somebody: User, clock: list[float]) -> None:
    set_up(somebody, clock)
    client = Client()
    name = urlsafe_base64_encode(force_bytes(somebody.pk))
    link = client.get(reverse("welcome", args=[name, default_token_generator.make_token(somebody)]))[
        "Location"
    ]
    client.post(link, {"new_password1": "nine slow kettles", "new_password2": "nine slow kettles"})
    somebody.refresh_from_db()
    assert somebody.check_password("nine slow kettles")
    assert not is_in(client)


def test_it_is_switched_off_only_with_a_code(somebody: User, clock: list[float]) -> None:
    secret, _codes = set_up(somebody, clock)
    client = Client()
    client.force_login(somebody)
    client.post(reverse("second-step-set-up"), {"code": "000000", "act": "off"})
    assert second_step.is_set_up(somebody)
    later(clock)
    client.post(reverse("second-step-set-up"), {"code": one_time_code(secret, clock[0]), "act": "off"})
    assert not second_step.is_set_up(somebody)
    other = Client()
    assert sign_in(other, somebody).status_code == 302
    assert is_in(other)


def test_a_second_secret_does_not_replace_the_first_by_itself(somebody: User, clock: list[float]) -> None:
    set_up(somebody, clock)
    client = Client()
    client.force_login(somebody)
    page = client.get(reverse("second-step-set-up")).content.decode()
    assert "The second step is on" in page
    assert TOTPDevice.objects.count() == 1


def test_an_operator_needs_the_second_step(db: None, clock: list[float]) -> None:
    user = User.objects.create_superuser("operator@host.example", name="Operator")
    client = Client()
    client.force_login(user)
    index = f"/{settings.ADMIN_PATH}/"
    assert client.get(index, follow=True).redirect_chain[-1][0] == reverse("second-step-set-up")
    set_up(user, clock)
    assert client.get(index).status_code == 302
    session = client.session
    session[second_step.DONE] = True
    session.save()
    assert client.get(index).status_code == 200
