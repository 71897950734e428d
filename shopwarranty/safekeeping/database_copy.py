"""A copy of the whole database as of one moment, and back: SQLite's own copy, or pg_dump and pg_restore."""

import os
import shutil
import sqlite3
import subprocess
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import connection

from shopwarranty.shops.postgres.base import EVERY_SHOP, SETTING
from shopwarranty.shops.scope import every_shop

SQLITE, POSTGRESQL = "sqlite", "postgresql"
ALL_ROWS = f"-c {SETTING}={EVERY_SHOP}"  # what the row policies ask for


class CannotCopy(Exception):
    """What stands in the way, and what to do about it."""


def engine() -> str:
    return str(connection.vendor)


def table_names() -> list[str]:
    """Every table of the database but SQLite's own."""
    return sorted(connection.introspection.table_names())


def copy_to(path: Path) -> dict[str, int]:
    """Writes the copy and gives how many rows each table of it holds."""
    return copy_sqlite(path) if engine() == SQLITE else dump_postgresql(path)


def copy_sqlite(path: Path) -> dict[str, int]:
    path.unlink(missing_ok=True)
    with connection.cursor() as cursor:
        cursor.execute("VACUUM INTO %s", [str(path)])
    with closing(sqlite3.connect(path)) as copy:
        return {table: rows_in(copy, table) for table in table_names()}


def rows_in(copy: Any, table: str) -> int:
    quoted = '"' + table.replace('"', '""') + '"'
    return int(copy.execute(f"SELECT count(*) FROM {quoted}").fetchone()[0])  # noqa: S608 - names of tables


def dump_postgresql(path: Path) -> dict[str, int]:
    """Counts and dump see the same snapshot."""
    with every_shop(), connection.cursor() as cursor:
        cursor.execute("BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY")
        try:
            cursor.execute("SELECT pg_export_snapshot()")
            snapshot = cursor.fetchone()[0]
            run_postgresql(
                "pg_dump",
                "--format=custom",
                "--no-owner",
                "--enable-row-security",
                f"--snapshot={snapshot}",
                f"--file={path}",
            )
            return {table: count_rows(cursor, table) for table in table_names()}
        finally:
            cursor.execute("ROLLBACK")


def count_rows(cursor: Any, table: str) -> int:
    cursor.execute(f"SELECT count(*) FROM {connection.ops.quote_name(table)}")  # noqa: S608 - names of tables
    return int(cursor.fetchone()[0])


def rows_now() -> dict[str, int]:
    with every_shop(), connection.cursor() as cursor:
        return {table: count_rows(cursor, table) for table in table_names()}


def put_back(copy: Path) -> None:
    """The database becomes this copy. Whoever calls has made sure that nothing is lost by it."""
    connection.close()
    if engine() == SQLITE:
        place_sqlite(copy, Path(settings.DATABASES["default"]["NAME"]))
    else:
        run_postgresql(
            "pg_restore", "--clean", "--if-exists", "--no-owner", "--single-transaction", str(copy)
        )


def empty() -> None:
    """Takes everything out of the database again, tables included."""
    connection.close()
    if engine() == SQLITE:
        for name in ("", "-wal", "-shm"):
            Path(f"{settings.DATABASES['default']['NAME']}{name}").unlink(missing_ok=True)
        return
    with connection.cursor() as cursor:
        for table in table_names():
            cursor.execute(f"DROP TABLE IF EXISTS {connection.ops.quote_name(table)} CASCADE")


def place_sqlite(copy: Path, target: Path) -> None:
    """First beside its place, then into it: a full disk leaves what was there."""
    beside = target.with_name(f".{target.name}.part")
    try:
        shutil.copyfile(copy, beside)
        for leftover in (f"{target}-wal", f"{target}-shm"):
            Path(leftover).unlink(missing_ok=True)
        beside.replace(target)
    finally:
        beside.unlink(missing_ok=True)


def run_postgresql(program: str, *arguments: str) -> None:
    found = shutil.which(program)
    if found is None:
        raise CannotCopy(f"{program} is not there. Install PostgreSQL's client programs (postgresql-client).")
    values = connection.get_connection_params()
    environment = {**os.environ, **dict(client_environment(values)), "PGOPTIONS": ALL_ROWS}
    done = subprocess.run(  # noqa: S603 - a fixed program, no shell
        [found, *arguments[:-1], f"--dbname={values['dbname']}", arguments[-1]],
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        raise CannotCopy(f"{program} failed:\n{done.stderr.strip()}")


def client_environment(values: dict[str, Any]) -> Iterator[tuple[str, str]]:
    """The password goes by the environment: arguments can be read by everybody on the machine."""
    names = {
        "PGHOST": "host",
        "PGPORT": "port",
        "PGUSER": "user",
        "PGPASSWORD": "password",
        "PGSSLMODE": "sslmode",
    }
    for variable, name in names.items():
        if values.get(name):
            yield variable, str(values[name])
