"""Copies an installation from SQLite into an empty PostgreSQL database, and proves that both hold the same.

Nothing is written to the source; it is held so that nobody else writes either. Stored files do not move.
"""

import hashlib
import json
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from decimal import Context, Decimal
from typing import Any, Final
from uuid import UUID

from django.core.management import call_command
from django.db import DatabaseError, connections, transaction
from django.db.migrations.executor import MigrationExecutor
from django.utils.dateparse import parse_date, parse_datetime, parse_time

from shopwarranty.shops import row_security, triggers
from shopwarranty.shops.scope import every_shop

SOURCE, TARGET = "default", "moved_to"
AT_ONCE: Final = 2000
TEXTS: Final = ("character varying", "text", "character")
EXACTLY: Final = Context(prec=2000)


class NotEmpty(Exception):
    """The target holds tables already."""


class NotTheseTwo(Exception):
    """It goes from SQLite to PostgreSQL, and the source has all migrations."""


class LeftThere(Exception):
    """What had arrived could not be taken out again, after what went wrong before."""


class Different(Exception):
    """What arrived is not what was sent; the tables, one a line."""


@dataclass(frozen=True, slots=True)
class Column:
    name: str
    type: str


@dataclass(frozen=True, slots=True)
class Table:
    """`columns` in the target's order, with its types; `key` is the target's primary key."""

    name: str
    columns: tuple[Column, ...]
    key: tuple[str, ...]

    @property
    def listed(self) -> str:
        return ", ".join(f'"{column.name}"' for column in self.columns)

    def select(self, alias: str) -> str:
        """In the order of the key, byte by byte on both sides, whatever language the target sorts by."""
        texts = {column.name for column in self.columns if column.type in TEXTS and alias == TARGET}
        key = ", ".join(f'"{name}"' + (' COLLATE "C"' if name in texts else "") for name in self.key)
        return f'SELECT {self.listed} FROM "{self.name}" ORDER BY {key}'  # noqa: S608 - own tables


@dataclass(frozen=True, slots=True)
class Proof:
    rows: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Moved:
    tables: int
    rows: int
    proofs: dict[str, Proof]


def move() -> Moved:
    """From the database `default` to `moved_to`. Raises NotTheseTwo, NotEmpty, Different, and then the
    target is empty again; or LeftThere."""
    check_both()
    try:
        with every_shop(), held():
            call_command("migrate", database=TARGET, verbosity=0, interactive=False)
            tables = fill()
            proofs = prove(tables)
    except BaseException as error:
        empty_again(error)
        raise
    return Moved(len(tables), sum(proof.rows for proof in proofs.values()), proofs)


@contextmanager
def held() -> Iterator[None]:
    """Nobody else writes into the source (its transactions are IMMEDIATE), and neither does this process."""
    with transaction.atomic(SOURCE), connections[SOURCE].cursor() as cursor:
        cursor.execute("PRAGMA query_only = ON")
        try:
            yield
        finally:
            cursor.execute("PRAGMA query_only = OFF")


def check_both() -> None:
    if (connections[SOURCE].vendor, connections[TARGET].vendor) != ("sqlite", "postgresql"):
        raise NotTheseTwo("It goes from SQLite (the present settings) to PostgreSQL (--to).")
    if there := connections[TARGET].introspection.table_names():
        raise NotEmpty(f"The target holds {len(there)} tables already. Make an empty database for it.")
    executor = MigrationExecutor(connections[SOURCE])
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        raise NotTheseTwo("The source waits for changes of the database: python3 manage.py migrate first.")


def fill() -> list[Table]:
    """All or nothing, without the guards; they stand again before anybody else sees a row."""
    triggers.take_away(TARGET)
    row_security.unlock(TARGET)
    tables = tables_of_both()
    with transaction.atomic(TARGET), connections[TARGET].cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL DEFERRED")
        names = ", ".join(f'"{table.name}"' for table in tables)
        cursor.execute(f"TRUNCATE {names}")  # what migrations put there
        for table in tables:
            copy(table, cursor)
        go_on_counting(tables, cursor)
    triggers.install(TARGET)
    row_security.set_up(TARGET)
    return tables


def go_on_counting(tables: Sequence[Table], cursor: Any) -> None:
    """The next id is the one that the source would have given: ids of rows thrown away are not used again."""
    with connections[SOURCE].cursor() as source:
        source.execute("SELECT name, seq FROM sqlite_sequence WHERE seq > 0")
        last = dict(source.fetchall())
    for table in (table for table in tables if table.name in last):
        asked = [f'"{table.name}"', table.key[0], last[table.name]]
        cursor.execute("SELECT setval(pg_get_serial_sequence(%s, %s), %s)", asked)


def tables_of_both() -> list[Table]:
    """Raises NotTheseTwo where the two do not have the same tables and columns."""
    here, there = (columns_in(alias) for alias in (SOURCE, TARGET))
    wrong = sorted(name for name in here.keys() | there.keys() if names(here, name) != names(there, name))
    if wrong:
        words = ", ".join(wrong)
        raise NotTheseTwo(f"These tables differ: {words}. Run python3 manage.py migrate first.")
    return [Table(name, tuple(columns), key_of(name)) for name, columns in sorted(there.items())]


def key_of(table: str) -> tuple[str, ...]:
    with connections[TARGET].cursor() as cursor:
        return tuple(connections[TARGET].introspection.get_primary_key_columns(cursor, table) or ())


def names(tables: dict[str, list[Column]], name: str) -> set[str]:
    return {column.name for column in tables.get(name, [])}


def columns_in(alias: str) -> dict[str, list[Column]]:
    connection = connections[alias]
    found: dict[str, list[Column]] = {}
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            if connection.vendor == "sqlite":
                cursor.execute(f'PRAGMA table_info("{table}")')
                found[table] = [Column(row[1], row[2]) for row in cursor.fetchall()]
            else:
                cursor.execute(
                    "SELECT column_name, data_type FROM information_schema.columns"
                    " WHERE table_schema = current_schema() AND table_name = %s ORDER BY ordinal_position",
                    [table],
                )
                found[table] = [Column(*row) for row in cursor.fetchall()]
    return found


def copy(table: Table, cursor: Any) -> None:
    """PostgreSQL reads what SQLite wrote; only yes and no are written otherwise."""
    flags = [at for at, column in enumerate(table.columns) if column.type == "boolean"]
    statement = f'COPY "{table.name}" ({table.listed}) FROM STDIN'
    with connections[TARGET].wrap_database_errors, cursor.copy(statement) as target:
        for row in rows_of(table, SOURCE):
            values = list(row)
            for at in flags:
                values[at] = None if values[at] is None else bool(values[at])
            target.write_row(values)


def rows_of(table: Table, alias: str) -> Iterator[Sequence[Any]]:
    """In portions, below Django's cursor: of millions of rows a few are in memory. In a transaction."""
    below = connections[alias].connection
    reading = closing(below.cursor(name="moving") if alias == TARGET else below.cursor())
    with connections[alias].wrap_database_errors, reading as cursor:
        cursor.execute(table.select(alias))
        while rows := cursor.fetchmany(AT_ONCE):
            yield from rows


def prove(tables: Sequence[Table]) -> dict[str, Proof]:
    """Counts and hashes of every table on both sides. Raises Different."""
    here = {table.name: proof_of(table, SOURCE) for table in tables}
    with transaction.atomic(TARGET), connections[TARGET].cursor() as cursor:
        cursor.execute("SELECT 1")  # now the row policies have heard that all shops are meant
        there = {table.name: proof_of(table, TARGET) for table in tables}
    wrong = [name for name in here if here[name] != there[name]]
    if wrong:
        lines = (f"{name}: {here[name].rows} rows, {there[name].rows} arrived" for name in wrong)
        raise Different("\n".join(lines))
    return here


def proof_of(table: Table, alias: str) -> Proof:
    """A hash over all rows by key, each value in one form whichever database it comes from."""
    digest, count = hashlib.sha256(), 0
    for row in rows_of(table, alias):
        said = [one_form(value, column.type) for value, column in zip(row, table.columns, strict=True)]
        digest.update(json.dumps(said, ensure_ascii=False).encode() + b"\n")
        count += 1
    return Proof(count, digest.hexdigest())


def one_form(value: Any, kind: str) -> Any:
    if value is None:
        return None
    if kind == "boolean":
        return bool(value)
    if kind in ("bigint", "integer", "smallint"):
        return int(value)
    if kind == "double precision":
        return repr(float(value))
    return FORMS.get(kind, str)(value)


def moment(value: Any) -> str:
    found = value if isinstance(value, datetime) else parse_datetime(value)
    if found is None:
        raise Different(f"{value!r} is no moment")
    return (found.replace(tzinfo=UTC) if found.tzinfo is None else found.astimezone(UTC)).isoformat()


def day(value: Any) -> str:
    return str(value if isinstance(value, date) else parse_date(value))


def clock(value: Any) -> str:
    return str(value if isinstance(value, time) else parse_time(value))


def binary(value: Any) -> str:
    return bytes(value).hex()


def written(value: Any) -> str:
    """JSON by its meaning: PostgreSQL orders keys and writes numbers its own way."""
    text = value if isinstance(value, str | bytes) else json.dumps(value)
    found = json.loads(text, parse_float=Decimal, parse_int=Decimal)
    return json.dumps(found, sort_keys=True, default=lambda each: {"number": number(each)})


def number(value: Any) -> str:
    return str(Decimal(str(value)).normalize(EXACTLY))


def identifier(value: Any) -> str:
    return UUID(str(value)).hex


FORMS: Final[dict[str, Callable[[Any], str]]] = {
    "timestamp with time zone": moment,
    "date": day,
    "time without time zone": clock,
    "bytea": binary,
    "jsonb": written,
    "numeric": number,
    "uuid": identifier,
}


def empty_again(error: BaseException) -> None:
    """Raises LeftThere."""
    try:
        take_everything_out()
    except DatabaseError as also:
        raise LeftThere(f"{error}\n{also}") from error


def take_everything_out() -> None:
    """The target was empty before, and is again."""
    connection = connections[TARGET]
    connection.close()
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            cursor.execute(f"DROP TABLE IF EXISTS {connection.ops.quote_name(table)} CASCADE")
        for function in (f"{trigger.name}_f" for trigger in triggers.wanted()):
            cursor.execute(f"DROP FUNCTION IF EXISTS {connection.ops.quote_name(function)}()")
