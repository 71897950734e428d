"""No page has a barrier that axe-core knows, in any colours and at either width (WCAG 2.2 A and AA).

Here every page once, the colours and widths taken in turn; `.ci/long barriers` opens all in all.
"""

import os
from collections.abc import Callable
from itertools import cycle, product
from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import BrowserContext, Page

from shopwarranty.shops.scope import shop_scope
from shopwarranty.web.themes import COOKIE, KNOWN
from tests.addresses import OF_SHOP, address
from tests.browser.conftest import PHONE, WIDE
from tests.conftest import World
from tests.every_row import rows_of
from tests.warranty.conftest import plain_pdf as plain_pdf

EVERYTHING = os.environ.get("BARRIERS") == "all"
LOOKS = tuple(product(sorted(KNOWN), (PHONE, WIDE)))
FOR_ALL = ("sign-in", "forgot", "forgot-sent", "public-find", "health")


@pytest.fixture
def paths(transactional_db: None, world: World, plain_pdf: None) -> list[str]:
    """Every address of a shop in which something of everything happened, and the doors of the house."""
    with shop_scope(world.ours.shop):
        rows = rows_of(world.ours)
    client = world.ours.client(world.ours.owner)
    ours = [address(page, world.ours.shop.slug, rows) for page in OF_SHOP]
    return [path for path in (*map(reverse, FOR_ALL), *ours) if is_page(client, path)]


def is_page(client: Any, path: str) -> bool:
    answer = client.get(path)
    whole = answer.status_code == 200 and answer["Content-Type"].startswith("text/html")
    return whole and not answer.streaming and b"<html" in answer.content


def barriers(page: Page, path: str) -> list[str]:
    from axe_playwright_python.sync_playwright import Axe

    page.goto(path)
    found = Axe().run(page).response["violations"]
    return [
        f"{path} {each['id']} ({each['impact']}): {each['nodes'][0]['html'][:160]}"
        f" {each['nodes'][0]['failureSummary'][:220]}"
        for each in found
    ]


def test_no_page_has_a_barrier(
    open_context: Callable[..., BrowserContext], world: World, paths: list[str]
) -> None:
    assert len(paths) > 100
    pages = {look: a_page(open_context, world, *look) for look in LOOKS}
    chosen = product(paths, LOOKS) if EVERYTHING else zip(paths, cycle(LOOKS), strict=False)
    found = [
        f"{theme} {size[0]}: {each}"
        for path, (theme, size) in chosen
        for each in barriers(pages[theme, size], path)
    ]
    print(
        f"\n{len(paths)} pages, {len(paths) * (len(LOOKS) if EVERYTHING else 1)} looks, {len(found)} barriers"
    )
    assert not found, "\n".join(found)


def a_page(
    open_context: Callable[..., BrowserContext], world: World, theme: str, size: tuple[int, int]
) -> Page:
    context = open_context(size=size, user=world.ours.owner.user, bypass_csp=True)
    session = context.cookies()[0]
    context.add_cookies([{"name": COOKIE, "value": theme, "domain": session["domain"], "path": "/"}])
    return context.new_page()
