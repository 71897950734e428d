"""Presses and follows, and waits for the page that answers: else a test reads the page it just left."""

from playwright.sync_api import Locator, Page


def go(page: Page, there: Locator) -> None:
    """Clicks what leads to another page."""
    with page.expect_navigation():
        there.click()


def press(page: Page, name: str, *, exact: bool = False) -> None:
    go(page, page.get_by_role("button", name=name, exact=exact).first)


def follow(page: Page, name: str) -> None:
    go(page, page.get_by_role("link", name=name).first)
