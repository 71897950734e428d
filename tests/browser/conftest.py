"""A real browser on a real server. Tests here are marked `browser`; a file's browser tests share a worker."""

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as django_settings
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, Page, ViewportSize

from tests.browser import chromium
from tests.browser.watch import Watch

# The browser's driver runs an event loop in this thread, which Django would take for asynchronous code.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
HERE = Path(__file__).parent
NONE_FOUND = "no Chromium on this machine: python3 manage.py test --setup-only"
WIDE, PHONE = (1280, 900), (390, 844)
OpenPage = Callable[..., Page]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if HERE in item.path.parents:
            item.add_marker(pytest.mark.browser)
        if item.get_closest_marker("browser"):
            item.add_marker(pytest.mark.xdist_group(f"browser: {item.path.name}"))


@pytest.fixture(scope="package")
def browser() -> Iterator[Browser]:
    """Closed with this folder's tests: its event loop would be in the way of another driver."""
    path = chromium.find()
    if path is None:
        if os.environ.get("CI", "").lower() in ("1", "true", "yes"):
            pytest.fail(NONE_FOUND)
        pytest.skip(NONE_FOUND)
    with chromium.started(path) as running:
        yield running


@pytest.fixture
def watch(live_server: Any) -> Iterator[Watch]:
    """Fails the test when a page asked another server or reported a script error."""
    keeper = Watch(live_server.url)
    yield keeper
    keeper.settle()


@pytest.fixture
def open_context(browser: Browser, watch: Watch, live_server: Any) -> Iterator[Callable[..., BrowserContext]]:
    """`open_context(size=PHONE, user=..., **more)`: a browser of one person, signed in if a user is given."""
    opened: list[BrowserContext] = []

    def open_one(size: tuple[int, int] = WIDE, user: Any = None, **more: Any) -> BrowserContext:
        width, height = size
        viewport = ViewportSize(width=width, height=height)
        more.setdefault("service_workers", "block")  # what a worker asks for is not seen by the watch
        context = browser.new_context(base_url=live_server.url, viewport=viewport, **more)
        watch.over(context)
        if user is not None:
            context.add_cookies([session_cookie(user, live_server.url)])
        opened.append(context)
        return context

    yield open_one
    for context in opened:
        context.close()


@pytest.fixture
def open_page(open_context: Callable[..., BrowserContext]) -> OpenPage:
    """`open_page("/s/kiln/", size=PHONE, user=member.user)`: that page, opened."""

    def open_one(path: str, **more: Any) -> Page:
        page = open_context(**more).new_page()
        page.goto(path)
        return page

    return open_one


@pytest.fixture
def picture() -> Callable[[Page, str], Path]:
    """`picture(page, "review-390")`: a picture of the whole page, for looking at."""
    folder = Path(django_settings.DATA_DIR) / "pictures"

    def take(page: Page, name: str) -> Path:
        path = folder / f"{name}.png"
        page.screenshot(path=path, full_page=True, animations="disabled")
        return path

    return take


def session_cookie(user: Any, url: str) -> Any:
    client = Client()
    client.force_login(user)
    return {"name": django_settings.SESSION_COOKIE_NAME, "value": client.session.session_key, "url": url}
