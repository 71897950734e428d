"""On PostgreSQL the database itself keeps shops apart: raw SQL as the program's role sees one shop, or none.

What holds is asked of the database in its own words (`count(*)` without a condition), not through the models.
"""

from collections.abc import Iterator
from contextlib import suppress
from typing import Any

import pytest
from django.conf import settings
from django.db import DatabaseError, connection, transaction
from django.urls import reverse

from shopwarranty.jobs.models import Job
from shopwarranty.shops import row_security
from shopwarranty.shops.models import Bay
from shopwarranty.shops.postgres.base import DatabaseWrapper
from shopwarranty.shops.scope import every_shop, shop_scope
from tests import builders as b
from tests.conftest import World
from tests.every_row import rows_of
from tests.kept_apart import tables
from tests.warranty.conftest import plain_pdf as plain_pdf

pytestmark = [
    pytest.mark.postgres,
    pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite has no row security"),
]
NAMES = [model._meta.db_table for model in tables()]


@pytest.fixture(autouse=True)
def locks(request: pytest.FixtureRequest) -> Iterator[None]:
    """In place after migrations; these tests put them there themselves where the setting is off."""
    mark = request.node.get_closest_marker("django_db")
    request.getfixturevalue("transactional_db" if mark and mark.kwargs.get("transaction") else "db")
    if not settings.ROW_SECURITY:
        row_security.lock("default")
    yield
    if mark:
        row_security.set_up("default")


def count(table: str, where: str = "") -> int:
    with connection.cursor() as cursor:
        cursor.execute(f'SELECT count(*) FROM "{table}" {where}')
        return int(cursor.fetchone()[0])


def counts() -> dict[str, int]:
    """All tables in one question."""
    parts = " UNION ALL ".join(f"SELECT '{name}', count(*) FROM \"{name}\"" for name in NAMES)
    with connection.cursor() as cursor:
        cursor.execute(parts)
        return dict(cursor.fetchall())


@pytest.fixture
def filled(world: World, plain_pdf: None) -> World:
    for people in (world.ours, world.theirs):
        with shop_scope(people.shop):
            rows_of(people)
    return world


def test_the_role_is_a_plain_one_that_owns_the_tables(db: None) -> None:
    """Else the tests below would show nothing: a superuser is bound by no policy."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT rolsuper, rolbypassrls FROM pg_roles WHERE rolname = current_user")
        assert cursor.fetchone() == (False, False)
        cursor.execute("SELECT DISTINCT tableowner = current_user FROM pg_tables WHERE schemaname = 'public'")
        assert cursor.fetchall() == [(True,)]


def test_every_table_of_shops_is_locked(db: None) -> None:
    assert row_security.locked("default") == set(NAMES)


def test_raw_sql_without_a_shop_sees_no_row_of_any_table(filled: World) -> None:
    with every_shop():
        there = counts()
    assert sum(count > 0 for count in there.values()) > 40
    assert {name: count for name, count in counts().items() if count} == {}
    print(f"\n{sum(there.values())} rows in {len(NAMES)} tables, 0 seen without a shop")


def test_raw_sql_in_a_shop_sees_its_rows_and_no_others(filled: World) -> None:
    with every_shop():
        there = counts()
    seen = []
    for people in (filled.ours, filled.theirs):
        with shop_scope(people.shop):
            seen.append(counts())
            assert not any(count(name, f"WHERE shop_id <> {people.shop.pk}") for name in NAMES)
    assert {name: seen[0][name] + seen[1][name] for name in NAMES} == there


def test_raw_sql_neither_changes_nor_makes_rows_of_another_shop(world: World) -> None:
    ours, theirs = world.ours.shop.pk, world.theirs.shop.pk
    with shop_scope(ours), connection.cursor() as cursor:
        cursor.execute("UPDATE shops_bay SET name = 'taken' WHERE shop_id = %s", [theirs])
        assert cursor.rowcount == 0
        cursor.execute("DELETE FROM shops_bay WHERE shop_id = %s", [theirs])
        assert cursor.rowcount == 0
        with pytest.raises(DatabaseError, match="row-level security"), transaction.atomic():
            cursor.execute(
                "INSERT INTO shops_bay (shop_id, name, position, takes_checks) VALUES (%s, 'x', 9, true)",
                [theirs],
            )
    with shop_scope(theirs):
        assert Bay.objects.get().name == "Bay 1"


def test_a_reused_connection_forgets_the_shop_it_worked_for(world: World) -> None:
    ours, theirs = world.ours.shop.pk, world.theirs.shop.pk
    for _round in range(2):
        with shop_scope(ours):
            assert count("shops_bay", f"WHERE shop_id = {ours}") == 1
        assert count("shops_bay") == 0
        with shop_scope(theirs):
            assert count("shops_bay", f"WHERE shop_id = {ours}") == 0
            with every_shop():
                assert count("shops_bay") == 2
            assert count("shops_bay") == 1
    assert count("shops_bay") == 0


def test_a_rollback_never_brings_an_earlier_shop_back(world: World) -> None:
    """PostgreSQL takes a setting back that was made in what is rolled back."""
    ours, theirs = world.ours.shop.pk, world.theirs.shop.pk
    with shop_scope(ours):
        assert count("shops_bay", f"WHERE shop_id = {ours}") == 1
    with shop_scope(theirs):
        with suppress(ZeroDivisionError), transaction.atomic():
            assert count("shops_bay", f"WHERE shop_id = {theirs}") == 1
            raise ZeroDivisionError
        assert count("shops_bay", f"WHERE shop_id = {ours}") == 0
        assert count("shops_bay", f"WHERE shop_id = {theirs}") == 1
    assert count("shops_bay") == 0


@pytest.mark.django_db(transaction=True)
def test_so_it_is_outside_transactions_and_after_real_rollbacks(world: World) -> None:
    ours, theirs = world.ours.shop.pk, world.theirs.shop.pk
    with shop_scope(ours):
        assert count("shops_bay") == 1
    assert count("shops_bay") == 0
    with suppress(ZeroDivisionError), shop_scope(theirs), transaction.atomic():
        assert count("shops_bay", f"WHERE shop_id = {theirs}") == 1
        raise ZeroDivisionError
    assert count("shops_bay") == 0
    with shop_scope(ours):
        assert count("shops_bay", f"WHERE shop_id = {ours}") == 1
        connection.close()
        assert count("shops_bay", f"WHERE shop_id = {ours}") == 1
    with every_shop(), connection.cursor() as cursor:
        cursor.execute("BEGIN")
        assert count("shops_bay") == 2
        cursor.execute("ROLLBACK")
    assert count("shops_bay") == 0


@pytest.fixture
def told(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What the connection is told while the test runs."""
    said: list[str] = []
    tell = DatabaseWrapper.tell

    def listen(self: Any, shop: str) -> None:
        said.append(shop)
        tell(self, shop)

    monkeypatch.setattr(DatabaseWrapper, "tell", listen)
    return said


def test_a_page_tells_the_database_its_shop_as_often_for_many_rows_as_for_few(
    world: World, told: list[str]
) -> None:
    client, url = world.ours.client(world.ours.owner), reverse("jobs", args=["kiln"])
    often = []
    for more in (2, 20):
        with shop_scope(world.ours.shop):
            for _ in range(more):
                b.a_job(panels=())
        told.clear()
        assert client.get(url).status_code == 200
        often.append(len(told))
    assert often[0] == often[1] <= 4


@pytest.mark.django_db(transaction=True)
def test_a_migration_works_on_the_rows_of_all_shops_and_locks_again_after_it(world: World) -> None:
    row_security.unlock("default")
    assert (row_security.locked("default"), count("shops_bay")) == (set(), 2)
    row_security.lock("default")
    assert (row_security.locked("default"), count("shops_bay")) == (set(NAMES), 0)


def test_rows_read_in_portions_stay_those_of_the_shop_they_were_asked_for(world: World) -> None:
    with every_shop():
        found = Job.objects.order_by("pk").iterator(chunk_size=1)
        for people in (world.ours, world.theirs):
            with shop_scope(people.shop):
                b.a_job(panels=())
        assert next(found).shop_id == world.ours.shop.pk
        with shop_scope(world.theirs.shop):
            assert Job.objects.count() == 1
        assert next(found).shop_id == world.theirs.shop.pk
