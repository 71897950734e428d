"""The demo shop, loaded once for all tests that look at it, and taken out of the database again."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

import pytest

TODAY = date(2026, 11, 25)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Tests of one loading go to one worker."""
    for item in items:
        if item.path.parent == Path(__file__).parent:
            item.add_marker(pytest.mark.xdist_group("demo"))


@dataclass(frozen=True, slots=True)
class Demo:
    """The shop on TODAY, what all its rows said when it was loaded, and the same of an earlier loading."""

    shop: Any
    digest: dict[str, str]
    first_digest: dict[str, str]
    media: Path

    @property
    def morning(self) -> datetime:
        return datetime.combine(TODAY, time(8), tzinfo=self.shop.zone)


@pytest.fixture(scope="package")
def loaded(
    django_db_setup: None, django_db_blocker: Any, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Demo]:
    from django.db import transaction
    from django.test import override_settings

    from shopwarranty.demo.loading import load_demo

    from .digest import digest_of

    folder = tmp_path_factory.mktemp("demo-media")
    with django_db_blocker.unblock(), transaction.atomic(), override_settings(MEDIA_ROOT=folder):
        first = _loaded_and_undone()
        shop = load_demo(TODAY)
        yield Demo(shop, digest_of(shop), first, folder)
        transaction.set_rollback(True)


def _loaded_and_undone() -> dict[str, str]:
    """What the rows say after a loading of its own; PDFs are not compared, so none is set."""
    from django.db import transaction

    from shopwarranty.demo.loading import load_demo
    from shopwarranty.warranty import preparing

    from .digest import digest_of

    with pytest.MonkeyPatch.context() as patch, transaction.atomic():
        patch.setattr(preparing, "render", lambda *_, **__: b"%PDF-1.7")
        patch.setattr(preparing, "sign", _unsigned)
        digest = digest_of(load_demo(TODAY))
        transaction.set_rollback(True)
    return digest


def _unsigned(pdf: bytes, *, shop: Any, now: datetime) -> bytes:
    """The shop's key is made all the same."""
    from shopwarranty.warranty.signing_keys import key_in_use

    key_in_use(shop, now)
    return pdf


@pytest.fixture
def demo(loaded: Demo, django_db_blocker: Any) -> Iterator[Demo]:
    """In the shop's scope; whatever a test writes is undone."""
    from django.db import transaction

    from shopwarranty.shops.scope import shop_scope

    with django_db_blocker.unblock(), transaction.atomic(), shop_scope(loaded.shop):
        yield loaded
        transaction.set_rollback(True)
