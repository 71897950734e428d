"""Which shops have something to do: one question for all of them, answered from each shop's own indexes."""

from collections.abc import Callable
from functools import reduce
from operator import or_
from typing import Any

from django.db.models import Exists, OuterRef, QuerySet

from .models import Shop
from .scope import every_shop


def shops_having(*rows: "QuerySet[Any]") -> "QuerySet[Shop]":
    """The shops that have a row of any of these; call it in `every_shop`.

    Asked shop by shop within the query, so that indexes that lead with the shop serve it, and the first row
    found ends the look.
    """
    having = [Exists(each.order_by().filter(shop=OuterRef("pk"))) for each in rows]
    return Shop.objects.filter(reduce(or_, having))


def shops_with(*rows: Callable[[], "QuerySet[Any]"]) -> list[Shop]:
    """The same, asked now. One query."""
    with every_shop():
        return list(shops_having(*(each() for each in rows)).order_by("pk"))
