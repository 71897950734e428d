"""A real Chromium for the furniture: pages rendered here are served from memory."""

import os
import shutil
from collections.abc import Callable, Iterator
from mimetypes import guess_type
from pathlib import Path
from typing import Any

import pytest
from django.contrib.staticfiles import finders

HOME = "http://furniture.example/"
Open = Callable[..., Any]


def chromium() -> str:
    """Where the browser is; without one the test skips, unless the pipeline promised one."""
    path = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if path is None:
        (pytest.fail if os.environ.get("CI") == "true" else pytest.skip)("no Chromium on this machine")
    return path


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """Closed with its module: while it runs, Django refuses the database to this thread."""
    api = pytest.importorskip("playwright.sync_api")
    path = chromium()
    with api.sync_playwright() as play:
        started = play.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield started
        started.close()


@pytest.fixture
def open_page(browser: Any) -> Iterator[Open]:
    """Shows `html` in a window; scripts can be turned off and the device's colours wished for."""
    windows = []

    def shown(html: str, *, width: int = 390, height: int = 844, **wishes: Any) -> Any:
        window = browser.new_context(viewport={"width": width, "height": height}, **wishes)
        windows.append(window)
        page = window.new_page()
        page.route("**/*", lambda route: answer(route, html))
        page.goto(HOME)
        return page

    yield shown
    for window in windows:
        window.close()


def answer(route: Any, html: str) -> None:
    address = route.request.url
    if not address.startswith(HOME + "static/"):
        route.fulfill(body=html, content_type="text/html; charset=utf-8")
        return
    found = finders.find(address.removeprefix(HOME + "static/"))
    if not isinstance(found, str):
        route.fulfill(status=404)
        return
    route.fulfill(body=Path(found).read_bytes(), content_type=guess_type(found)[0] or "text/plain")
