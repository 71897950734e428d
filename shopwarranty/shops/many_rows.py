"""Very many rows at once, for imports: tuples instead of model instances, one prepared statement a table.

Constraints and triggers hold as ever; signals, `save()` and field validation do not run, so whoever uses this
has checked the values. Building model instances and their SQL costs several times what the database takes to
store the rows (measured by tests/bench/import_speed.py).
"""

from collections.abc import Callable, Iterator, Sequence
from datetime import date, datetime
from typing import Any, Final
from uuid import UUID, uuid4

from django.db import connections, models, router

from .rows import ShopOwned
from .scope import required_shop_id

AT_ONCE: Final = 2000
Adapter = Callable[[Any], Any]
Fields = dict[str, "models.Field[Any, Any]"]


class Table:
    """Collects rows of one shop-owned table. `names` are fields as `attname`; the others keep their default.

    `add` takes the values of `names` in that order and gives the new row's id. Nothing is in the database
    before `flush`; rows that others point to are flushed first.
    """

    def __init__(self, model: type[ShopOwned], names: Sequence[str], ids_at_once: int = AT_ONCE) -> None:
        self.model, self.rows, self.ids_at_once = model, list[tuple[Any, ...]](), ids_at_once
        self.connection = connections[router.db_for_write(model)]
        fields = {field.attname: field for field in model._meta.local_concrete_fields}
        fixed = dict(_fixed(fields, names))
        self.with_uid = "uid" in fields
        columns = ["id", *(["uid"] if self.with_uid else []), *names, *fixed]
        self.tail = tuple(fixed.values())
        self.adapters = list(self._adapters(fields, columns))
        self.sql = self._statement([fields[name].column for name in columns])
        self.free: Iterator[int] = iter(())

    def add(self, *values: Any) -> int:
        pk = next(self.free, 0) or self._reserve()
        uid = (uuid4(),) if self.with_uid else ()
        self.rows.append((pk, *uid, *values, *self.tail))
        return pk

    def flush(self) -> None:
        rows, self.rows = self.rows, []
        if not rows:
            return
        if self.adapters:
            rows = [self._adapted(row) for row in rows]
        with self.connection.cursor() as cursor:
            for first in range(0, len(rows), AT_ONCE):
                cursor.executemany(self.sql, rows[first : first + AT_ONCE])

    def _adapted(self, row: tuple[Any, ...]) -> tuple[Any, ...]:
        values = list(row)
        for at, adapter in self.adapters:
            if values[at] is not None:
                values[at] = adapter(values[at])
        return tuple(values)

    def _reserve(self) -> int:
        self.free = iter(reserved_ids(self.model, self.ids_at_once))
        return next(self.free)

    def _statement(self, columns: Sequence[str]) -> str:
        quote = self.connection.ops.quote_name
        names = ", ".join(quote(column) for column in columns)
        marks = ", ".join(["%s"] * len(columns))
        table = quote(self.model._meta.db_table)
        return f"INSERT INTO {table} ({names}) VALUES ({marks})"  # noqa: S608 - names of models, never input

    def _adapters(self, fields: Fields, columns: Sequence[str]) -> Iterator[tuple[int, Adapter]]:
        """What the driver does not take as it is; numbers, texts, truth values and None pass."""
        plain = (models.CharField, models.TextField, models.IntegerField, models.FloatField)
        for at, name in enumerate(columns):
            field = fields[name]
            if not isinstance(field, (*plain, models.BooleanField, models.ForeignKey, models.AutoField)):
                yield at, remembering(field, self.connection)


def _fixed(fields: Fields, names: Sequence[str]) -> Iterator[tuple[str, Any]]:
    """The shop in scope, and every other field at its default."""
    for name, field in fields.items():
        if name == "shop_id":
            yield name, required_shop_id()
        elif name not in names and name != "uid" and not field.primary_key:
            yield name, None if field.null else field.get_default()


def remembering(field: "models.Field[Any, Any]", connection: Any) -> Adapter:
    """The field's own conversion; of days and moments, which repeat, each is converted once."""
    known: dict[Any, Any] = {}

    def adapt(value: Any) -> Any:
        if isinstance(value, UUID):
            return value.hex if not connection.features.has_native_uuid_field else value
        if not isinstance(value, date | datetime):
            return field.get_db_prep_save(value, connection)
        if value not in known:
            known[value] = field.get_db_prep_save(value, connection)
        return known[value]

    return adapt


def reserved_ids(model: type[models.Model], count: int) -> Sequence[int]:
    """Ids that nobody else will be given. Call inside the transaction that uses them."""
    connection, table = connections[router.db_for_write(model)], model._meta.db_table
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            return _reserved_on_sqlite(cursor, table, count)
        cursor.execute(
            "SELECT nextval(pg_get_serial_sequence(%s, 'id')) FROM generate_series(1, %s)", [table, count]
        )
        return [row[0] for row in cursor.fetchall()]


def _reserved_on_sqlite(cursor: Any, table: str, count: int) -> range:
    cursor.execute("SELECT seq FROM sqlite_sequence WHERE name = %s", [table])
    row = cursor.fetchone()
    last = row[0] if row else 0
    if row:
        cursor.execute("UPDATE sqlite_sequence SET seq = %s WHERE name = %s", [last + count, table])
    else:
        cursor.execute("INSERT INTO sqlite_sequence (name, seq) VALUES (%s, %s)", [table, last + count])
    return range(last + 1, last + count + 1)
