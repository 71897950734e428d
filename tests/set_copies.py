"""Very many copies of rows that hang together, made by the database itself (INSERT ... SELECT).

A pattern is a stretch of ids, table by table: what an act of the program wrote is copied as often as is
wanted, keys moved by a step so large that copies never meet. Triggers and the checking of foreign keys are
off meanwhile and put back afterwards; `tests.rules` tells whether what came out hangs together.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, Final

from django.db import connection, models

from shopwarranty.shops import triggers
from shopwarranty.shops.models import Change

Model = type[models.Model]
Own = Mapping[tuple[Model, str], str]
"""SQL of a column over the pattern's row `p` and the copy's number `n.k`, where it is no plain copy."""

AT_ONCE: Final = 1000
BEYOND: Final = 10**12


def highest(copied: Sequence[Model]) -> dict[Model, int]:
    """The highest id of each table by now."""
    with connection.cursor() as cursor:
        found = {}
        for model in copied:
            cursor.execute(f'SELECT COALESCE(MAX(id), 0) FROM "{model._meta.db_table}"')
            found[model] = int(cursor.fetchone()[0])
    return found


@dataclass(slots=True)
class Pattern:
    """The rows with ids after `after` up to `until`. `step`: how far a copy lies from the one before."""

    until: Mapping[Model, int]
    step: Mapping[Model, int]
    own: Own
    after: Mapping[Model, int] = field(default_factory=dict)
    made: int = 0

    def grow_to(self, number: int) -> None:
        """Some at a time, and copies of one row beside each other, as days of many shops would leave them."""
        with unguarded():
            for first in range(self.made + 1, number + 1, AT_ONCE):
                for model in self.step:
                    self.copy(model, first, min(number, first + AT_ONCE - 1))
            self.made = max(self.made, number)
        count_on(self.step)

    def copy(self, model: Model, first: int, last: int) -> None:
        columns = {each.column: self.said(model, each) for each in model._meta.local_concrete_fields}
        names = ", ".join(f'"{name}"' for name in columns)
        table = model._meta.db_table
        with connection.cursor() as cursor:
            cursor.execute(
                f"WITH RECURSIVE n(k) AS (SELECT {first} UNION ALL SELECT k + 1 FROM n WHERE k < {last})"
                f' INSERT INTO "{table}" ({names}) SELECT {", ".join(columns.values())} FROM "{table}" p, n'
                f" WHERE p.id > {self.after.get(model, 0)} AND p.id <= {self.until[model]} ORDER BY p.id, n.k"
            )

    def said(self, model: Model, each: "models.Field[Any, Any]") -> str:
        """The column's value in a copy."""
        here = f'p."{each.column}"'
        if (model, each.name) in self.own:
            return self.own[model, each.name]
        if each.primary_key:
            return f"{here} + n.k * {self.step[model]}"
        if isinstance(each, models.ForeignKey) and each.related_model in self.step:
            return f"{here} + n.k * {self.step[each.related_model]}"  # type: ignore[index]
        if model is Change and each.name == "row":
            return f"{here} + n.k * {self.step_by_table()}"
        if isinstance(each, models.UUIDField):
            return new_uuid() if not each.null else here
        return f"{here} || '-' || n.k" if each.unique else here

    def step_by_table(self) -> str:
        """The history names rows by table and id."""
        steps = " ".join(f"WHEN '{model._meta.db_table}' THEN {step}" for model, step in self.step.items())
        return f'CASE p."table" {steps} ELSE 0 END'


def new_uuid() -> str:
    return "gen_random_uuid()" if connection.vendor == "postgresql" else "lower(hex(randomblob(16)))"


def days_later(column: str, days: str) -> str:
    """A day of the pattern, moved by an SQL expression."""
    if connection.vendor == "postgresql":
        return f"{column} + ({days})::int"
    return f"date({column}, ({days}) || ' days')"


def minutes_later(column: str, minutes: str) -> str:
    """A moment of the pattern, moved."""
    if connection.vendor == "postgresql":
        return f"{column} + ({minutes}) * interval '1 minute'"
    return f"datetime({column}, ({minutes}) || ' minutes')"


@contextmanager
def unguarded() -> Iterator[None]:
    """Without triggers and foreign keys."""
    triggers.take_away("default")
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SET session_replication_role = replica")  # a superuser's
        else:
            cursor.execute("PRAGMA foreign_keys = OFF")
            cursor.execute("PRAGMA synchronous = OFF")
        yield
        if connection.vendor == "postgresql":
            cursor.execute("SET session_replication_role = DEFAULT")
        else:
            cursor.execute("PRAGMA foreign_keys = ON")
            cursor.execute("PRAGMA synchronous = NORMAL")
    triggers.install("default")


def count_on(copied: Iterable[Model]) -> None:
    """Rows that the program makes from now on lie beyond all copies, further ones included."""
    if connection.vendor != "postgresql":  # SQLite counts by itself
        return
    with connection.cursor() as cursor:
        for table in (model._meta.db_table for model in copied):
            cursor.execute(f'SELECT COALESCE(MAX(id), 0) FROM "{table}"')
            after = max(BEYOND, int(cursor.fetchone()[0]))
            cursor.execute("SELECT setval(pg_get_serial_sequence(%s, 'id'), %s)", [f'"{table}"', after])
