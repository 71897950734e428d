"""The second lock: on PostgreSQL the database itself shows and takes only rows of the shop in scope.

Each shop-owned table has one policy; it binds the owner of the tables too, so that the role the program signs
in with needs no rights of its own. A superuser is bound by nothing: `check_setup` says so. The scope is read
once a statement (a subquery without outer references), not once a row.
"""

from collections.abc import Iterator
from typing import Final

from django.apps import apps
from django.conf import settings
from django.db import connections

from .postgres.base import EVERY_SHOP, SETTING
from .rows import ShopOwned

POLICY: Final = "own_shop_1"  # a new name when it says something else
TOLD: Final = f"current_setting('{SETTING}', true)"
ROWS: Final = (
    f"shop_id = (SELECT NULLIF(NULLIF({TOLD}, ''), '{EVERY_SHOP}')::bigint)"
    f" OR (SELECT {TOLD} = '{EVERY_SHOP}')"
)
LOCKED: Final = (
    "SELECT relname FROM pg_class JOIN pg_policy ON polrelid = pg_class.oid"
    " WHERE polname = %s AND relrowsecurity AND relforcerowsecurity AND pg_table_is_visible(pg_class.oid)"
)


def tables(using: str) -> Iterator[str]:
    """Those of shops that are there by now."""
    there = set(connections[using].introspection.table_names())
    for model in apps.get_models():
        if issubclass(model, ShopOwned) and model._meta.db_table in there:
            yield model._meta.db_table


def locked(using: str) -> set[str]:
    with connections[using].cursor() as cursor:
        cursor.execute(LOCKED, [POLICY])
        return {name for (name,) in cursor.fetchall()}


def is_passed_by(using: str = "default") -> bool:
    """Whether the role that the program signs in with is bound by no policy."""
    with connections[using].cursor() as cursor:
        cursor.execute("SELECT rolsuper OR rolbypassrls FROM pg_roles WHERE rolname = current_user")
        return bool(cursor.fetchone()[0])


def set_up(using: str) -> None:
    """As the settings say, after migrations."""
    if settings.ROW_SECURITY:
        lock(using)
    else:
        unlock(using)


def lock(using: str) -> None:
    """Only what is missing: a table is held up for nothing else."""
    if connections[using].vendor != "postgresql":
        return
    done = locked(using)
    for table in tables(using):
        if table not in done:
            run(using, f'DROP POLICY IF EXISTS {POLICY} ON "{table}"')
            run(using, f'CREATE POLICY {POLICY} ON "{table}" USING ({ROWS}) WITH CHECK ({ROWS})')
            run(using, f'ALTER TABLE "{table}" ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY')


def unlock(using: str) -> None:
    """For a migration, which works on the rows of all shops."""
    if connections[using].vendor != "postgresql":
        return
    for table in sorted(locked(using)):
        run(using, f'DROP POLICY {POLICY} ON "{table}"')
        run(using, f'ALTER TABLE "{table}" NO FORCE ROW LEVEL SECURITY, DISABLE ROW LEVEL SECURITY')


def run(using: str, statement: str) -> None:
    with connections[using].cursor() as cursor:
        cursor.execute(statement)
