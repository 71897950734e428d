"""The desk's week without a mouse: a check chosen, a free place found by arrow keys, booked with Enter."""

from collections.abc import Callable
from datetime import timedelta
from types import SimpleNamespace

import pytest
from django.utils import timezone
from playwright.sync_api import BrowserContext, Page, expect

from shopwarranty.inspections.models import Booking
from shopwarranty.shops.scope import shop_scope
from tests import builders as b
from tests.conftest import World


@pytest.fixture
def due(transactional_db: None, world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    """Pages are told Wednesday, 25 November 2026, 10:00 in New York."""
    told = SimpleNamespace(now=lambda: b.NOW, override=timezone.override)
    monkeypatch.setattr("shopwarranty.shops.middleware.timezone", told)
    with shop_scope(world.ours.shop):
        b.a_check(due_on=b.TODAY + timedelta(days=2))


def at(page: Page) -> str:
    """The value of what has the focus: the place, as its form would send it."""
    return str(page.evaluate("document.activeElement.value || ''"))


def test_a_check_is_given_a_place_by_keyboard_alone(
    open_context: Callable[..., BrowserContext], world: World, due: None
) -> None:
    page = open_context(user=world.ours.desk.user).new_page()
    page.set_default_timeout(15_000)
    page.goto(f"/s/{world.ours.shop.slug}/week/")
    page.locator(".choose").focus()
    with page.expect_navigation():
        page.keyboard.press("Enter")
    expect(page.get_by_text("Now press a free place.")).to_be_visible()
    tabs_to_a_place(page)
    page.keyboard.press("Home")
    first = at(page)
    page.keyboard.press("ArrowDown")
    assert at(page) > first and at(page)[:10] == first[:10]
    page.keyboard.press("ArrowRight")
    assert at(page)[:10] > first[:10]
    chosen = at(page)
    ring = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
    assert ring == "solid"
    with page.expect_navigation():
        page.keyboard.press("Enter")
    with shop_scope(world.ours.shop):
        assert Booking.objects.get(state="booked").starts_local == chosen.split("/")[0]


def tabs_to_a_place(page: Page) -> None:
    """The address leads past the head of the page: a few tabs, not the whole menu."""
    for _tab in range(4):
        page.keyboard.press("Tab")
        if at(page):
            return
    raise AssertionError("No free place within four tabs")
