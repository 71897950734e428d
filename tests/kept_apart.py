"""How a test sees that two shops stay apart: whose words stand in an answer, which ids a request wrote."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any
from zoneinfo import available_timezones

from django.apps import apps
from django.db import connection, models

from shopwarranty.shops.models import Shop
from shopwarranty.shops.rows import ShopOwned
from shopwarranty.shops.scope import every_shop

TIME = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d")
SHORTEST = 5  # below that, a text of one shop is found in any page by chance


def tables() -> list[type[ShopOwned]]:
    return [model for model in apps.get_models() if issubclass(model, ShopOwned)]


def names_of(shop: Shop) -> frozenset[str]:
    """The texts that stand in this shop's rows and in no other's: names, numbers, plates, hashes."""
    with every_shop():
        texts = [set(texts_of(model, shop)) - set(texts_of(model, shop, other=True)) for model in tables()]
    said = set().union(*texts) | {shop.name, shop.legal_name, shop.email}
    return frozenset(text for text in said if not is_anybodys(text))


def is_anybodys(text: str) -> bool:
    """Keys, times and time zones, which stand in pages of every shop."""
    return bool(TIME.fullmatch(text)) or text in available_timezones() or (text.isalpha() and text.islower())


def texts_fields(model: type[models.Model]) -> list[Any]:
    kinds = (models.CharField, models.TextField)
    return [field for field in model._meta.local_concrete_fields if isinstance(field, kinds)]


def texts_of(model: type[ShopOwned], shop: Shop, *, other: bool = False) -> Iterator[str]:
    rows = model.objects.exclude(shop=shop) if other else model.objects.filter(shop=shop)
    fields = [field.attname for field in texts_fields(model)]
    if fields:
        for values in rows.values_list(*fields):
            yield from (text for text in values if text and len(text) >= SHORTEST)


@contextmanager
def writes_naming(row_id: int) -> Iterator[list[str]]:
    """Collects the statements that write this id anywhere: as a key, in a text or in JSON."""
    found: list[str] = []

    def look(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        sets = params if many else [params]
        if sql.startswith(("INSERT", "UPDATE", "DELETE")) and any(str(row_id) in str(one) for one in sets):
            found.append(f"{sql[:120]} {str(params)[:200]}")
        return execute(sql, params, many, context)

    with connection.execute_wrapper(look):
        yield found


def count_on_from(first: int) -> None:
    """New rows of every shop-owned table get ids above `first`, the same in every table."""
    with connection.cursor() as cursor:
        for model in tables():
            table = model._meta.db_table
            if connection.vendor == "sqlite":
                cursor.execute("DELETE FROM sqlite_sequence WHERE name = %s", [table])
                cursor.execute("INSERT INTO sqlite_sequence (name, seq) VALUES (%s, %s)", [table, first])
            else:
                cursor.execute("SELECT setval(pg_get_serial_sequence(%s, 'id'), %s)", [table, first])


def beyond_every_id() -> int:
    """A round number above all ids that any table has given out."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT COALESCE(MAX(seq), 0) FROM sqlite_sequence")
        else:
            cursor.execute("SELECT COALESCE(MAX(last_value), 0) FROM pg_sequences")
        highest: int = cursor.fetchone()[0]
    return (highest // 7_000_000 + 1) * 7_000_000
