"""Renders furniture the way a view would: with a request, its shop and its messages."""

from collections.abc import Iterable
from dataclasses import dataclass
from html.parser import HTMLParser
from typing import Any

from django.contrib.messages.storage.cookie import CookieStorage
from django.http import HttpRequest
from django.template import engines
from django.test import RequestFactory

from shopwarranty.web import nav


@dataclass(frozen=True, slots=True)
class Shop:
    name: str = "Fennel Yard Film"
    slug: str = "fennel"
    time_zone: str = "America/Chicago"
    units: str = "us"


@dataclass(frozen=True, slots=True)
class Member:
    roles: frozenset[str] = frozenset({"owner"})

    def __str__(self) -> str:
        return "Rosa Example"


@dataclass(frozen=True, slots=True)
class User:
    is_authenticated: bool = True
    theme: str = ""


SHOP = Shop()
ROOMS = [nav.Entry(room.key, str(room.label), f"/s/fennel/{room.key}/") for room in nav.ROOMS]


def a_request(address: str = "/s/fennel/jobs/", theme: str = "") -> HttpRequest:
    request = RequestFactory().get(address)
    request.user = User()  # type: ignore[assignment]
    request.shop, request.member = SHOP, Member()  # type: ignore[attr-defined]
    request._messages = CookieStorage(request)  # type: ignore[attr-defined]
    if theme:
        request.COOKIES["colours"] = theme
    return request


def render(source: str, request: HttpRequest | None = None, **values: Any) -> str:
    """`source` is a template's name, or its text if it holds a tag."""
    engine = engines["django"]
    template = engine.from_string(source) if "{" in source else engine.get_template(source)
    known = {"nav": ROOMS, "search_url": "/s/fennel/search/", "section": "jobs", "user": User()}
    return str(template.render(known | values, request or a_request()))


class Elements(HTMLParser):
    """Every element with its attributes and the text directly inside it, in order."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str]]] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: Iterable[tuple[str, str | None]]) -> None:
        self.found.append((tag, {name: value or "" for name, value in attrs}))

    def all(self, *tags: str) -> list[dict[str, str]]:
        return [attributes for tag, attributes in self.found if tag in tags]

    @property
    def ids(self) -> list[str]:
        return [attributes["id"] for _tag, attributes in self.found if "id" in attributes]
