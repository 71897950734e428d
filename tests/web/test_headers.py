"""Every answer carries the headers that keep a browser from helping an attacker.

Expected values: W3C Permissions Policy, CSP Level 3, RFC 6797, Fetch (CORP, nosniff), HTML (COOP), RFC 9111,
from memory.
"""

import logging
from collections.abc import Iterator
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from shopwarranty.shops.scope import shop_scope
from shopwarranty.web.headers import UNUSED
from tests.addresses import OF_SHOP, PAGES, Page, address
from tests.conftest import World
from tests.every_row import Rows, rows_of
from tests.shops.test_asking import WORDS
from tests.warranty.conftest import plain_pdf as plain_pdf

ALWAYS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": ("same-origin", "no-referrer"),
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "X-Permitted-Cross-Domain-Policies": "none",
}
POLICY = {
    "default-src": "'self'", "object-src": "'none'", "base-uri": "'none'", "frame-ancestors": "'none'",
    "form-action": "'self'",
}  # fmt: skip


@pytest.fixture(autouse=True)
def quiet() -> Iterator[None]:
    logging.disable(logging.CRITICAL)
    yield
    logging.disable(logging.NOTSET)


def faults(answer: Any) -> Iterator[str]:
    for name, value in ALWAYS.items():
        if answer.get(name, "") not in (value if isinstance(value, tuple) else (value,)):
            yield f"{name}: {answer.get(name)}"
    said = answer.get("Content-Security-Policy", "").split(";")
    policy = dict(part.strip().partition(" ")[::2] for part in said)
    for name, value in POLICY.items():
        if policy.get(name) != value:
            yield f"CSP {name}: {policy.get(name)}"
    if any("unsafe" in value or "*" in value for value in policy.values()):
        yield f"CSP {policy}"
    allowed = answer.get("Permissions-Policy", "")
    yield from (f"permits {name}" for name in UNUSED if f"{name}=()" not in allowed)
    if not answer.get("Cache-Control"):
        yield "may be kept by a shared cache"


def asked(world: World, rows: Rows) -> Iterator[tuple[str, Any]]:
    owner = world.ours.client(world.ours.owner)
    owner.raise_request_exception = False
    stranger = Client(raise_request_exception=False)
    for page in OF_SHOP:
        url = address(page, world.ours.shop.slug, rows)
        yield page.name, owner.get(url)
        yield f"{page.name} by a stranger", stranger.get(url)
    for page in PAGES:
        if "shop" not in page.arguments:
            yield page.name, stranger.get(public_address(page))
            yield f"{page.name} sent", stranger.post(public_address(page))


def public_address(page: Page) -> str:
    return reverse(page.name, kwargs={word: WORDS[word] for word in page.arguments})


def test_every_address_answers_with_every_header(world: World, plain_pdf: None) -> None:
    with shop_scope(world.ours.shop):
        rows = rows_of(world.ours)
    wrong, answers = [], 0
    for name, answer in asked(world, rows):
        answers += 1
        wrong += [f"{name} ({answer.status_code}): {fault}" for fault in faults(answer)]
    assert not wrong, "\n".join(wrong[:40])
    assert answers > 2 * len(OF_SHOP)
    print(f"\n{answers} answers of {len(PAGES)} addresses, every header on each")


def test_trace_shows_no_page_of_a_shop_and_sends_no_header_back(world: World, plain_pdf: None) -> None:
    """RFC 9110, 9.3.8: whoever answers TRACE sends the request back, and with it what scripts may not see."""
    with shop_scope(world.ours.shop):
        rows = rows_of(world.ours)
    owner, stranger = world.ours.client(world.ours.owner), Client()
    ours = [address(page, world.ours.shop.slug, rows) for page in OF_SHOP]
    theirs = [public_address(page) for page in PAGES if "shop" not in page.arguments]
    secret = {"x-secret": "not to be seen"}
    answers = [owner.trace(url, headers=secret) for url in ours]
    assert {answer.status_code for answer in answers} == {405}
    answers += [stranger.trace(url, headers=secret) for url in theirs]
    assert [answer for answer in answers if b"not to be seen" in answer.content] == []


def test_errors_refusals_and_the_operators_pages_carry_them_too(world: World, settings: Any) -> None:
    owner = world.ours.client(world.ours.owner)
    csrf = Client(enforce_csrf_checks=True).post(reverse("sign-in"))
    answers = {
        404: Client().get("/nothing-here"),
        403: world.ours.client(world.ours.desk).get(reverse("shop-settings", args=["kiln"])),
        "csrf": csrf,
        "other": owner.get(reverse("today", args=["fennel"])),
        "operator": Client().get(f"/{settings.ADMIN_PATH}/"),
        "host": Client().get("/sign-in/", headers={"host": "elsewhere.example"}),
    }
    assert {key: list(faults(answer)) for key, answer in answers.items()} == {key: [] for key in answers}


def test_a_page_that_breaks_carries_them_too(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    def breaks(*args: object, **more: object) -> None:
        raise RuntimeError

    monkeypatch.setattr("shopwarranty.shops.views.people.render", breaks)
    client = world.ours.client(world.ours.owner)
    client.raise_request_exception = False
    answer = client.get(reverse("members", args=["kiln"]))
    assert answer.status_code == 500
    assert list(faults(answer)) == []


def test_signing_out_empties_the_page_cache_and_leaves_a_phones_photos(world: World) -> None:
    answer = world.ours.client(world.ours.owner).post(reverse("sign-out"))
    assert answer["Clear-Site-Data"] == '"cache"'


def test_cookies_are_out_of_reach_of_scripts_and_of_other_sites(world: World, settings: Any) -> None:
    settings.SESSION_COOKIE_SECURE = settings.CSRF_COOKIE_SECURE = True
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    user = world.ours.owner.user
    user.set_password("three quiet hinges")
    user.save()
    client = Client()
    client.post(reverse("sign-in"), {"username": user.email, "password": "three quiet hinges"})
    cookie = client.cookies[settings.SESSION_COOKIE_NAME]
    assert (cookie["httponly"], cookie["samesite"], cookie["secure"]) == (True, "Lax", True)


def test_with_https_browsers_are_told_to_stay_there(world: World, settings: Any) -> None:
    settings.SECURE_HSTS_SECONDS, settings.SECURE_HSTS_INCLUDE_SUBDOMAINS = 31_536_000, True
    answer = Client().get("/sign-in/", secure=True)
    assert answer["Strict-Transport-Security"] == "max-age=31536000; includeSubDomains"
