"""Tenancy in one place: every read and write of a shop's rows happens inside a shop scope.

A query outside a scope raises; inside one it sees that shop only. `every_shop` is for the few places that
serve all shops at once (the tick, the operator's pages, looking up a public link), easy to find by name.
Triggers in the database (see `triggers.py`) hold the same rule against raw SQL and bulk writes.
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TYPE_CHECKING, Any, Final, TypeVar

from django.db import models

if TYPE_CHECKING:
    from .models import Shop

EVERY: Final = -1
_scope: ContextVar[int | None] = ContextVar("shop_scope", default=None)
Row = TypeVar("Row", bound=models.Model)


class OutsideShopScope(RuntimeError):
    """A shop's rows were asked for without saying whose."""


class OtherShopsRow(RuntimeError):
    """A row of one shop was about to be written while working for another."""


@contextmanager
def shop_scope(shop: "Shop | int") -> Iterator[None]:
    token = _scope.set(shop if isinstance(shop, int) else shop.pk)
    try:
        yield
    finally:
        _scope.reset(token)


@contextmanager
def every_shop() -> Iterator[None]:
    token = _scope.set(EVERY)
    try:
        yield
    finally:
        _scope.reset(token)


def current_shop_id() -> int | None:
    """The shop in scope, EVERY, or None outside any scope."""
    return _scope.get()


def required_shop_id() -> int:
    shop_id = _scope.get()
    if shop_id is None or shop_id == EVERY:
        raise OutsideShopScope("This needs one shop: enter shop_scope(shop) first.")
    return shop_id


def claim_row(row: Any) -> None:
    """Gives a new row the shop in scope; refuses a row of another shop."""
    shop_id = _scope.get()
    if row.shop_id is None and shop_id not in (None, EVERY):
        row.shop_id = shop_id
    if row.shop_id is None or shop_id is None:
        raise OutsideShopScope(f"{type(row).__name__} was written outside a shop scope.")
    if shop_id not in (EVERY, row.shop_id):
        raise OtherShopsRow(f"{type(row).__name__} belongs to another shop.")


class ShopQuerySet(models.QuerySet[Row]):
    def bulk_create(self, objs: Iterable[Row], *args: Any, **kwargs: Any) -> list[Row]:
        rows = list(objs)
        for row in rows:
            claim_row(row)
        return super().bulk_create(rows, *args, **kwargs)

    def bulk_update(self, objs: Iterable[Row], fields: Iterable[str], batch_size: int | None = None) -> int:
        rows = list(objs)
        for row in rows:
            claim_row(row)
        return super().bulk_update(rows, fields, batch_size)


class ShopManager(models.Manager[Row]):
    """Filters by the shop in scope. Rooms write `objects = ShopManager.from_queryset(TheirRows)()`."""

    _queryset_class = ShopQuerySet

    def get_queryset(self) -> models.QuerySet[Row]:
        shop_id = _scope.get()
        if shop_id is None:
            raise OutsideShopScope(f"{self.model.__name__} was read outside a shop scope.")
        rows = super().get_queryset()
        return rows if shop_id == EVERY else rows.filter(shop_id=shop_id)

    def none(self) -> models.QuerySet[Row]:
        """Reads nothing, so it needs no scope: forms name it where their fields are declared."""
        return super().get_queryset().none()
