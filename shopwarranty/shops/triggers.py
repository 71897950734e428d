"""Rules that a constraint cannot say, as triggers on SQLite and PostgreSQL.

Two kinds: a foreign key never leads to another shop's row, and a frozen row never changes. They are made from
the models. A migration takes them away first and puts them in place again at its end: SQLite rebuilds a table
to alter it, and cannot while triggers of other tables speak of it.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any, Final

from django.apps import apps
from django.db import connections, models

from .rows import ShopOwned


@dataclass(frozen=True, slots=True)
class Freeze:
    """Rows that are never deleted, and never change but in the `free` columns.

    `when` is SQL over OLD that says from when on; empty means from the first moment. `personal` columns are
    frozen too, but for an erasure: the row of `Erasing` that it makes and takes away opens them.
    """

    free: tuple[str, ...] = ()
    when: str = "1 = 1"
    personal: tuple[str, ...] = ()


NOT_ERASING: Final = "NOT EXISTS (SELECT 1 FROM shops_erasing WHERE shop_id = OLD.shop_id)"


@dataclass(frozen=True, slots=True)
class Trigger:
    name: str
    table: str
    moment: str
    condition: str
    message: str


def install(using: str) -> None:
    """The triggers that the models want, and no others."""
    take_away(using)
    connection = connections[using]
    tables = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        for trigger in (trigger for trigger in wanted() if trigger.table in tables):
            for statement in statements(trigger, connection.vendor):
                cursor.execute(statement)


def take_away(using: str) -> None:
    connection = connections[using]
    with connection.cursor() as cursor:
        for name, table in there(using):
            on = "" if connection.vendor == "sqlite" else f' ON "{table}"'
            cursor.execute(f'DROP TRIGGER "{name}"{on}')


def there(using: str) -> list[tuple[str, str]]:
    """Name and table of every trigger in the database: all of them are made here."""
    connection = connections[using]
    sql = "SELECT name, tbl_name FROM sqlite_master WHERE type = 'trigger'"
    if connection.vendor != "sqlite":
        sql = (
            "SELECT tgname, relname FROM pg_trigger JOIN pg_class ON pg_class.oid = tgrelid"
            " WHERE NOT tgisinternal AND pg_table_is_visible(pg_class.oid)"
        )
    with connection.cursor() as cursor:
        cursor.execute(sql)
        return [(name, table) for name, table in cursor.fetchall()]


def wanted() -> Iterator[Trigger]:
    for model in apps.get_models():
        if issubclass(model, ShopOwned):
            yield from same_shop(model)
        freeze = getattr(model, "freeze", None)
        if freeze:
            yield from frozen(model, freeze)


def shop_links(model: type[models.Model]) -> list[models.ForeignKey[Any, Any]]:
    """The foreign keys of a shop's table that lead to shop-owned tables."""
    return [
        field
        for field in model._meta.local_fields
        if isinstance(field, models.ForeignKey) and issubclass(field.related_model, ShopOwned)  # type: ignore[arg-type]
    ]


def same_shop(model: type[models.Model]) -> Iterator[Trigger]:
    table, links = model._meta.db_table, shop_links(model)
    yield Trigger(
        f"{table}_shop_stays",
        table,
        "UPDATE OF shop_id",
        "NEW.shop_id <> OLD.shop_id",
        f"{table}: a row cannot move to another shop",
    )
    if not links:
        return
    condition = " OR ".join(
        f'(NEW."{link.column}" IS NOT NULL AND NEW.shop_id IS DISTINCT FROM '
        f'(SELECT shop_id FROM {link.related_model._meta.db_table} WHERE id = NEW."{link.column}"))'  # type: ignore[union-attr]
        for link in links
    )
    message = f"{table}: points to a row of another shop"
    yield Trigger(f"{table}_same_shop_i", table, "INSERT", condition, message)
    columns = ", ".join(f'"{link.column}"' for link in links)
    yield Trigger(f"{table}_same_shop_u", table, f"UPDATE OF {columns}", condition, message)


def frozen(model: type[models.Model], freeze: Freeze) -> Iterator[Trigger]:
    table = model._meta.db_table
    names = [f.name for f in model._meta.local_concrete_fields if not f.primary_key]
    held = [name for name in names if name not in (*freeze.free, *freeze.personal)]
    changed = changes(model, held)
    if freeze.personal:
        changed = f"{changed} OR (({changes(model, freeze.personal)}) AND {NOT_ERASING})"
    message = f"{table}: this record is kept as it is; add a correction instead"
    yield Trigger(f"{table}_kept_u", table, "UPDATE", f"({freeze.when}) AND ({changed})", message)
    yield Trigger(f"{table}_kept_d", table, "DELETE", f"({freeze.when})", message)


def changes(model: type[models.Model], names: Iterable[str]) -> str:
    columns = [model._meta.get_field(name).column for name in names]  # type: ignore[union-attr]
    return " OR ".join(f'OLD."{column}" IS DISTINCT FROM NEW."{column}"' for column in columns)


def statements(trigger: Trigger, vendor: str) -> Iterator[str]:
    if vendor == "sqlite":
        condition = trigger.condition.replace("IS DISTINCT FROM", "IS NOT")
        yield (
            f'CREATE TRIGGER "{trigger.name}" BEFORE {trigger.moment} ON "{trigger.table}" FOR EACH ROW '
            f"WHEN {condition} BEGIN SELECT RAISE(ABORT, '{trigger.message}'); END"
        )
        return
    result = "OLD" if trigger.moment == "DELETE" else "NEW"
    yield (
        f"CREATE OR REPLACE FUNCTION {trigger.name}_f() RETURNS trigger LANGUAGE plpgsql AS $$ "
        f"BEGIN IF {trigger.condition} THEN RAISE EXCEPTION '{trigger.message}' "
        f"USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN {result}; END $$"
    )
    yield (
        f'CREATE TRIGGER "{trigger.name}" BEFORE {trigger.moment} ON "{trigger.table}" '
        f"FOR EACH ROW EXECUTE FUNCTION {trigger.name}_f()"
    )
