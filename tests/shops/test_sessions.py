"""Who is signed in, with what cookie, and what ends it (OWASP ASVS 5.0: 3.3, 7.2, 7.4)."""

import json
import os
import re
import subprocess
import sys
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from shopwarranty.shops import bay
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import User
from shopwarranty.web import themes
from tests.bay_device import PIN, client_at, enrolled, with_pin
from tests.conftest import ShopPeople

OLD, NEW = "three quiet hinges", "four loud hinges"
OF_COOKIES = """
import json, os
os.environ["SHOPWARRANTY_HTTPS"] = "true"
from shopwarranty import settings
print(json.dumps({name: getattr(settings, name) for name in dir(settings) if "COOKIE" in name}))
"""


@pytest.fixture
def owner(ours: ShopPeople, settings: Any) -> User:
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    user: User = ours.owner.user
    user.set_password(OLD)
    user.save()
    return user


def signed_in(user: User, password: str = OLD) -> Client:
    client = Client()
    form = {"username": user.email, "password": password}
    assert client.post(reverse("sign-in"), form).status_code == 302
    return client


def is_in(client: Client) -> bool:
    return client.get(reverse("account", args=["kiln"])).status_code == 200


def test_with_https_every_cookie_is_bound_to_this_host_and_to_https(
    ours: ShopPeople, owner: User, settings: Any
) -> None:
    """RFC 6265bis, 4.1.3.2: Secure, no Domain, the path "/"; else a browser takes no __Host- cookie."""
    done = subprocess.run(
        [sys.executable, "-c", OF_COOKIES], env={**os.environ}, capture_output=True, text=True, check=True
    )
    for name, value in json.loads(done.stdout).items():
        setattr(settings, name, value)
    client = Client()
    client.get(reverse("sign-in"))
    client.post(reverse("theme"), {"theme": "dark"})
    client.post(reverse("sign-in"), {"username": owner.email, "password": OLD})
    client.post(reverse("account", args=["kiln"]), {"name": "Owner", "language": "en", "theme": ""})
    _device, token = bay.offer_device(name="Tablet", actor=Actor.of(ours.owner), now=timezone.now())
    Client.post(tablet := Client(), reverse("bay-enrol", args=[token]))
    cookies = {**client.cookies, **tablet.cookies}
    assert {"__Host-sessionid", "__Host-csrftoken", "__Host-colours", "__Host-bay_device"} <= set(cookies)
    for name, cookie in cookies.items():
        assert name.startswith("__Host-"), name
        assert (cookie["secure"], cookie["path"], cookie["domain"]) == (True, "/", ""), name
        assert cookie["samesite"] == "Lax", name
        assert cookie["httponly"] or name == "__Host-csrftoken", name
    assert is_in(client) and bay.COOKIE in bay.cookie_name() and themes.COOKIE in themes.cookie_name()


def test_signing_in_gives_a_new_session_and_signing_out_ends_it_for_good(owner: User) -> None:
    client = Client()
    session = client.session
    session["planted"] = "by somebody else"
    session.save()
    planted = session.session_key
    client.post(reverse("sign-in"), {"username": owner.email, "password": OLD})
    kept = client.session.session_key
    assert kept != planted
    client.post(reverse("sign-out"))
    thief = Client()
    thief.cookies["sessionid"] = str(kept)
    assert not is_in(thief)


def test_a_changed_password_ends_every_other_session_and_keeps_this_one(owner: User) -> None:
    here, elsewhere = signed_in(owner), signed_in(owner)
    form = {"old_password": OLD, "new_password1": NEW, "new_password2": NEW}
    assert here.post(reverse("account", args=["kiln"]), form).status_code == 302
    assert (is_in(here), is_in(elsewhere)) == (True, False)
    assert is_in(signed_in(owner, NEW))


def test_whom_the_operator_shuts_out_is_out_at_once(owner: User) -> None:
    client = signed_in(owner)
    User.objects.filter(pk=owner.pk).update(is_active=False)
    assert not is_in(client)


def test_whom_the_operator_shuts_out_is_out_of_the_bay_too(ours: ShopPeople) -> None:
    now = timezone.now()
    tablet = client_at(ours.owner, ours.installer, now)
    assert tablet.get("/s/kiln/bay/").status_code == 200
    User.objects.filter(memberships=ours.installer).update(is_active=False)
    assert tablet.get("/s/kiln/bay/")["Location"] == "/bay/"
    assert str(ours.installer) not in tablet.get("/bay/").content.decode()
    again = tablet.post(reverse("bay-switch", args=[ours.installer.pk]), {"pin": PIN})
    assert again.status_code == 404


def test_a_member_without_a_sign_in_of_their_own_still_works_in_the_bay(ours: ShopPeople) -> None:
    now = timezone.now()
    type(ours.installer).objects.filter(pk=ours.installer.pk).update(user=None)
    _device, key = enrolled(ours.owner, now)
    with_pin(ours.installer)
    tablet = Client()
    tablet.cookies[bay.COOKIE] = key
    answer = tablet.post(reverse("bay-switch", args=[ours.installer.pk]), {"pin": PIN})
    assert answer["Location"] == "/s/kiln/bay/"


def test_a_password_may_be_long_is_taken_exactly_as_typed_and_never_has_to_change(owner: User) -> None:
    """OWASP ASVS 5.0, 6.2.5 and 6.2.8 to 6.2.10: 64 characters and more, neither cut nor trimmed."""
    here, typed = signed_in(owner), "  Ünïcode and blanks count, " + "x" * 50 + "  "
    form = {"old_password": OLD, "new_password1": typed, "new_password2": typed}
    assert here.post(reverse("account", args=["kiln"]), form).status_code == 302
    User.objects.filter(pk=owner.pk).update(last_login=timezone.now() - timedelta(days=4000))
    assert is_in(signed_in(owner, typed))
    for near in (typed.strip(), typed[:-1], typed.lower()):
        said = Client().post(reverse("sign-in"), {"username": owner.email, "password": near})
        assert said.status_code == 200


@pytest.mark.parametrize("guess", ["1234567890", "qwertyuiop", "Password123", "owner of kiln", "short one"])
def test_a_password_that_many_have_or_that_says_ones_name_is_refused(owner: User, guess: str) -> None:
    """The first three stand in published lists of the commonest ones."""
    here = signed_in(owner)
    form = {"old_password": OLD, "new_password1": guess, "new_password2": guess}
    assert here.post(reverse("account", args=["kiln"]), form).status_code == 200
    owner.refresh_from_db()
    assert owner.check_password(OLD)


def test_passwords_are_masked_and_a_keeper_of_passwords_may_fill_them_in(owner: User) -> None:
    """What the browser is told: HTML, 4.10.18.7, "autofill"; nothing refuses to be pasted into."""
    pages = {
        Client().get(reverse("sign-in")).content.decode(): {"current-password"},
        signed_in(owner).get(reverse("account", args=["kiln"])).content.decode(): {
            "current-password",
            "new-password",
        },
    }
    for page, wanted in pages.items():
        fields = re.findall(r"<input[^>]*password[^>]*>", page)
        assert all('type="password"' in field for field in fields)
        assert {found for field in fields for found in re.findall(r'autocomplete="([^"]*)"', field)} == wanted
        assert "onpaste" not in page


def test_a_new_password_needs_the_present_one(owner: User) -> None:
    form = {"old_password": "not it", "new_password1": NEW, "new_password2": NEW}
    signed_in(owner).post(reverse("account", args=["kiln"]), form)
    owner.refresh_from_db()
    assert owner.check_password(OLD)


def test_a_session_ends_after_a_fortnight(owner: User, settings: Any) -> None:
    client = signed_in(owner)
    left = client.session.get_expiry_date() - timezone.now()
    assert timedelta(days=13) < left <= timedelta(days=14)
