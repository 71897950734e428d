"""Which shops have something to do: one question for all of them, answered from each shop's own indexes."""

from collections.abc import Callable
from functools import reduce
from operator import or_
from typing import Any

from django.db.models import Exists, OuterRef, QuerySet

from .models import Shop
from .scope import every_shop


def shops_with(*rows: Callable[[], "QuerySet[Any]"]) -> list[Shop]:
    """The shops that have a row of any of these; each is called inside `every_shop`. One query.

    Asked shop by shop within the query, so that indexes that lead with the shop serve it, and the first row
    found ends the look.
    """
    with every_shop():
        having = [Exists(each().order_by().filter(shop=OuterRef("pk"))) for each in rows]
        return list(Shop.objects.filter(reduce(or_, having)).order_by("pk"))
