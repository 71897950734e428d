"""A world of two shops and their people, so that every test can ask what the other shop sees."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, time
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.utils import translation
from hypothesis import settings as hypothesis_settings

NOW = datetime(2026, 11, 25, 15, 0, tzinfo=UTC)  # 10:00 in New York, a Wednesday
# A shared machine is slow now and then: a slow example is no failure.
hypothesis_settings.register_profile("here", deadline=None)
hypothesis_settings.load_profile("here")
PASSWORD = "wax lifts nothing 7"


@dataclass(frozen=True, slots=True)
class ShopPeople:
    shop: Any
    owner: Any
    installer: Any
    desk: Any

    def client(self, member: Any) -> Client:
        client = Client()
        client.force_login(member.user)
        return client


@dataclass(frozen=True, slots=True)
class World:
    """`ours` keeps US units and New York time, `theirs` metric units and Berlin time."""

    ours: ShopPeople
    theirs: ShopPeople
    now: datetime = NOW


def make_shop(slug: str, **more: Any) -> ShopPeople:
    from shopwarranty.shops.models import Bay, Member, OpeningHours, Shop, User
    from shopwarranty.shops.scope import shop_scope

    shop = Shop.objects.create(slug=slug, created_at=NOW, **more)
    people = {}
    with shop_scope(shop):
        for role in ("owner", "installer", "desk"):
            user = User(email=f"{role}@{slug}.example", name=f"{role.title()} of {slug}")
            user.password = "!"  # signed in by force_login; hashing would cost every test
            user.save()
            people[role] = Member.objects.create(
                user=user, name=user.name, joined_at=NOW, **{f"is_{role}": True}
            )
        Bay.objects.create(name="Bay 1", position=1)
        for weekday in range(5):
            OpeningHours.objects.create(weekday=weekday, opens=time(8), closes=time(17))
        confirm_wording(people["owner"])
    return ShopPeople(shop, **people)


def confirm_wording(owner: Any) -> None:
    """The shop has compared the wording that its certificates need; French it has not."""
    from shopwarranty.warranty.legal.profile import PROFILE_VERSION
    from shopwarranty.warranty.models import TextConfirmation

    items = ("US-07", "US-08", "US-09", "EU-01 en", "EU-01 de", "AU-04", "AU-08", "AU-09")
    TextConfirmation.objects.bulk_create(
        TextConfirmation(
            identifier=item,
            text_version=PROFILE_VERSION,
            read_where="the official print",
            member=owner,
            at=NOW,
        )
        for item in items
    )


@pytest.fixture
def world(db: None) -> World:
    ours = make_shop(
        "kiln",
        name="Kiln Lane Film",
        legal_name="Kiln Lane Film LLC",
        street="4 Kiln Lane",
        town="Example City, EX 00000",
        country="US",
        telephone="555-0100",
        email="desk@kiln.example",
        public_url="https://kiln.example",
        time_zone="America/New_York",
        units="us",
        currency="USD",
        legal_profile="us",
        certificate_prefix="KL",
    )
    theirs = make_shop(
        "fennel",
        name="Fennel Yard Film",
        legal_name="Fennel Yard Film Ltd",
        street="14 Fennel Yard",
        town="Example Town",
        country="DE",
        telephone="555-0101",
        email="desk@fennel.example",
        public_url="https://fennel.example",
        time_zone="Europe/Berlin",
        units="metric",
        legal_profile="other",
        certificate_prefix="FY",
    )
    return World(ours, theirs)


@pytest.fixture
def ours(world: World) -> Iterator[ShopPeople]:
    """The first shop, with its scope entered."""
    from shopwarranty.shops.scope import shop_scope

    with shop_scope(world.ours.shop):
        yield world.ours


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Large rounds run only when they are asked for: `-m long`, or by `.ci/long`."""
    if "long" in config.option.markexpr or any("::" in argument for argument in config.args):
        return
    large = [item for item in items if item.get_closest_marker("long")]
    items[:] = [item for item in items if not item.get_closest_marker("long")]
    config.hook.pytest_deselected(items=large)


@pytest.fixture(autouse=True)
def own_folders(settings: Any, tmp_path: Path) -> None:
    """Files and mails of a test stay in its own folder; static files need no collecting."""
    settings.MEDIA_ROOT = tmp_path / "media"
    settings.STATIC_ROOT = tmp_path
    settings.SIGNING_SEAL_FILE = tmp_path / "signing_seal"
    settings.EMAIL_FILE_PATH = str(tmp_path / "mail")
    settings.STORAGES = {
        **settings.STORAGES,
        "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
    }


@pytest.fixture(autouse=True)
def own_language() -> Iterator[None]:
    """A request leaves its language to the thread, which only the next request replaces."""
    with translation.override("en"):
        yield


@pytest.fixture(autouse=True)
def rules_hold(request: pytest.FixtureRequest) -> Iterator[None]:
    """After every database test the rules of the domain still hold, but those marked with `breaks`."""
    commits = {"transactional_db", "live_server"} & set(request.fixturenames)
    uses_database = "db" in request.fixturenames or request.node.get_closest_marker("django_db")
    if not uses_database and not commits:
        yield
        return
    request.getfixturevalue("transactional_db" if commits else "db")
    yield
    from tests.rules import broken

    but = {name for mark in request.node.iter_markers("breaks") for name in mark.args}
    assert broken(but) == []
    if commits:
        let_rows_be_deleted()


def let_rows_be_deleted() -> None:
    """A test that commits is cleared away by deleting; the flush that does it puts the triggers back."""
    from django.db import connection

    from shopwarranty.shops.triggers import wanted

    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            for trigger in wanted():
                cursor.execute(f'DROP TRIGGER IF EXISTS "{trigger.name}"')
