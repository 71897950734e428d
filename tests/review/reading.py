"""Small ways to ask the review's pages in tests."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

from django.test import Client

from shopwarranty.review.tables import Line, Table
from tests.conftest import ShopPeople


def page(people: ShopPeople, member: Any = None, **asked: str) -> Any:
    answer = people.client(member or people.owner).get(f"/s/{people.shop.slug}/review/", asked)
    assert answer.status_code == 200
    return answer


def text(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def table(answer: Any, name: str) -> Table:
    found: Table = next(t for t in answer.context["tables"] if t.name == name)
    return found


def line(answer: Any, name: str, level: str) -> Line:
    of = table(answer, name)
    return next(one for one in (*of.lines, *of.more) if one.level == level)


def as_json(people: ShopPeople, member: Any = None, **asked: str) -> dict[str, Any]:
    client = people.client(member or people.owner)
    found: dict[str, Any] = json.loads(client.get(f"/s/{people.shop.slug}/review/review.json", asked).content)
    return found


def as_rows(people: ShopPeople, name: str, member: Any = None, **asked: str) -> list[dict[str, str]]:
    client: Client = people.client(member or people.owner)
    answer = client.get(f"/s/{people.shop.slug}/review/{name}.csv", asked)
    return list(csv.DictReader(io.StringIO(answer.content.decode())))


def counted(people: ShopPeople, url: str, member: Any = None) -> int:
    """How many places the list behind a figure holds."""
    answer = people.client(member or people.owner).get(url)
    assert answer.status_code == 200, url
    total: int = answer.context["part"].paginator.count
    return total


def number(shown: str) -> int:
    return int(shown.replace(",", ""))
