"""The browser fixtures keep what they promise: tests of pages rest on them."""

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Error

from tests.browser.conftest import PHONE, OpenPage
from tests.browser.watch import Watch


def test_the_sign_in_page_opens_on_a_phone_without_scrolling_sideways(open_page: OpenPage) -> None:
    page = open_page("/sign-in/", size=PHONE)
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE[0]


def test_a_signed_in_member_is_not_sent_to_the_sign_in_page(open_page: OpenPage, world: Any) -> None:
    page = open_page(f"/s/{world.ours.shop.slug}/", user=world.ours.owner.user)
    assert "sign-in" not in page.url


def test_a_request_to_another_server_is_refused_and_remembered(
    open_context: Callable[..., BrowserContext], watch: Watch
) -> None:
    page = open_context().new_page()
    with pytest.raises(Error):
        page.goto("https://elsewhere.example/")
    assert watch.strays == ["https://elsewhere.example/"]
    watch.strays.clear()


def test_a_script_error_is_remembered(open_page: OpenPage, watch: Watch) -> None:
    page = open_page("/sign-in/")
    page.evaluate("setTimeout(() => { throw new Error('planted') })")
    page.wait_for_timeout(200)
    assert any("planted" in error for error in watch.errors)
    watch.errors.clear()
