"""Public pages are asked for a bounded number of times, counted for all processes together."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from shopwarranty.shops.asking import MINUTE, sweep, times_asked
from shopwarranty.shops.models import Asked
from tests.addresses import OPEN
from tests.conftest import NOW, World
from tests.many_hands import at_once
from tests.many_hands import shared_database as shared_database

STRANGER = {"REMOTE_ADDR": "198.51.100.7"}  # RFC 5737: addresses for examples
WORDS: dict[str, str | int] = {
    "uidb64": "MQ", "token": "x-y", "number": "1", "name": "x.log", "code": "abc", "pk": 1, "panel": "roof",
}  # fmt: skip


def public(name: str) -> str:
    from tests.addresses import PAGES

    page = next(page for page in PAGES if page.name == name)
    return reverse(name, kwargs={word: WORDS[word] for word in page.arguments})


@pytest.fixture
def few(settings: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """The clock stands still, so that no test goes over the end of a minute."""
    settings.PUBLIC_READ_A_MINUTE, settings.PUBLIC_SENT_A_MINUTE = 3, 2
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


@pytest.mark.postgres
@pytest.mark.django_db
def test_each_time_is_counted_once_and_a_minute_later_anew() -> None:
    assert [times_asked("read", "a", now=NOW) for _ in range(3)] == [1, 2, 3]
    assert times_asked("read", "b", now=NOW) == 1
    assert times_asked("sent", "a", now=NOW) == 1
    assert times_asked("read", "a", now=NOW + MINUTE) == 1
    times_asked("read", "198.51.100.7", now=NOW)
    assert not Asked.objects.filter(who__contains="198").filter(who__contains=".").exists()
    assert sweep(NOW + timedelta(days=3)) == 5


@pytest.mark.postgres
def test_counts_of_many_at_once_lose_none(shared_database: None) -> None:
    def ask() -> list[int]:
        return [times_asked("read", "x", now=NOW) for _ in range(10)]

    counts = [count for each in at_once([ask] * 6) for count in each]
    assert sorted(counts) == list(range(1, 61))


@pytest.mark.parametrize("name", sorted(set(OPEN) - {"health"}))
def test_every_public_page_tells_who_asks_too_often_to_wait(world: World, few: None, name: str) -> None:
    client, url = Client(**STRANGER), public(name)  # type: ignore[arg-type]
    codes = [client.get(url).status_code for _ in range(5)]
    assert 429 not in codes[:3]
    assert codes[3:] == [429, 429]
    assert client.post(url).status_code != 429
    assert [client.post(url).status_code for _ in range(2)][-1] == 429
    assert client.get(url)["Retry-After"] == "60"


def test_guessing_addresses_is_counted_too(world: World, few: None) -> None:
    client = Client(**STRANGER)  # type: ignore[arg-type]
    assert [client.get(f"/nothing/{n}").status_code for n in range(4)] == [404, 404, 404, 429]


def test_others_those_signed_in_the_monitor_and_this_machine_are_not_held_up(world: World, few: None) -> None:
    for _ in range(5):
        Client(**STRANGER).get("/sign-in/")  # type: ignore[arg-type]
    other = Client(REMOTE_ADDR="198.51.100.8")
    assert other.get("/sign-in/").status_code == 200
    client = world.ours.client(world.ours.owner)
    assert client.get("/", **STRANGER).status_code == 302  # type: ignore[arg-type]
    assert Client(**STRANGER).get("/health/").status_code in (200, 503)  # type: ignore[arg-type]
    assert [Client().get("/sign-in/").status_code for _ in range(9)] == [200] * 9


def test_behind_our_proxy_the_asker_is_whom_the_proxy_names(world: World, few: None, settings: Any) -> None:
    settings.SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")

    def ask(who: str) -> int:
        return Client().get("/sign-in/", headers={"x-forwarded-for": who}).status_code

    assert [ask("203.0.113.5") for _ in range(4)] == [200, 200, 200, 429]
    assert ask("203.0.113.5, 203.0.113.6") == 200  # what the asker writes itself stands first


def test_a_stretch_begins_on_the_minute() -> None:
    assert datetime(2026, 11, 25, 15, 0, tzinfo=UTC) == NOW
