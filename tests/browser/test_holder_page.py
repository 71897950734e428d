"""The holder on a small phone without a script: a time picked, then moved; an edge reported; the desk."""

import io
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from django.utils import timezone
from PIL import Image
from playwright.sync_api import BrowserContext, Page, expect

from shopwarranty.inspections.holder.links import holder_link
from shopwarranty.inspections.models import Booking, HolderReport
from shopwarranty.shops.scope import shop_scope
from tests import builders as b
from tests.browser.conftest import PHONE
from tests.browser.hand import follow, go, press
from tests.conftest import World

SMALL = (320, 640)


@pytest.fixture
def path(transactional_db: None, world: World, monkeypatch: pytest.MonkeyPatch) -> str:
    """A check is due in two days; pages are told Wednesday, 25 November 2026, 10:00 in New York."""
    told = SimpleNamespace(now=lambda: b.NOW, override=timezone.override)
    monkeypatch.setattr("shopwarranty.shops.middleware.timezone", told)
    with shop_scope(world.ours.shop):
        job = b.a_job(handed_over_on=b.days_ago(12), panels=("left-front-door", "roof"))
        check = b.a_check(job, due_on=b.TODAY + timedelta(days=2))
        party = job.vehicle.holdings.get().party
        return holder_link(check, to=party, now=b.NOW).removeprefix("https://kiln.example")


def no_sideways_scrolling(context: BrowserContext, address: str) -> None:
    """Measured with a script of the test's own, in a browser of the same width that allows one."""
    page = context.new_page()
    page.goto(address)
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), address
    page.close()


def a_photo() -> Any:
    out = io.BytesIO()
    Image.new("RGB", (400, 300), (90, 110, 120)).save(out, "JPEG")
    return {"name": "edge.jpg", "mimeType": "image/jpeg", "buffer": out.getvalue()}


def test_picked_moved_reported_and_seen_at_the_desk(
    open_context: Callable[..., BrowserContext],
    picture: Callable[[Page, str], Path],
    world: World,
    path: str,
) -> None:
    phone = open_context(size=PHONE, java_script_enabled=False)
    phone.set_default_timeout(15_000)
    page = phone.new_page()
    page.goto(path)
    picture(page, "holder-390")
    go(page, page.locator(".two-times button").first)
    expect(page.get_by_role("heading", name="Your appointment")).to_be_visible()
    follow(page, "Another time")
    go(page, page.locator(".times button").last)
    expect(page.locator(".when")).to_be_visible()
    picture(page, "holder-booked-390")
    with page.expect_download() as download:
        page.get_by_role("link", name="Add to your calendar").click()
    assert download.value.suggested_filename == "appointment.ics"
    assert b"METHOD:PUBLISH" in Path(download.value.path()).read_bytes()
    report_an_edge(page, path, picture)
    with shop_scope(world.ours.shop):
        assert list(Booking.objects.order_by("sequence").values_list("state", "by_holder")) == [
            ("moved", True),
            ("booked", True),
        ]
        assert HolderReport.objects.get().photos.count() == 1
    for width in (SMALL, PHONE):
        with_script = open_context(size=width)
        for end in ("", "report/", "report/at/left-front-door/", "reminders/"):
            no_sideways_scrolling(with_script, f"{path}{end}")
    seen_at_the_desk(open_context, picture, world)


def report_an_edge(page: Page, path: str, picture: Callable[[Page, str], Path]) -> None:
    page.goto(path)
    follow(page, "Report an edge")
    picture(page, "holder-where-390")
    go(page, page.locator(".rows").get_by_role("link", name="Left front door"))
    go(page, page.locator("svg a").first)  # a stroke of the drawing picks its place in the list
    assert page.locator("#which input:checked").get_attribute("value")
    page.get_by_label("some days, up to a week").check()
    page.set_input_files("#photos", [a_photo()])
    page.get_by_label("In your words").fill("It lifts as long as a thumb.")
    picture(page, "holder-edge-390")
    press(page, "Send it")
    expect(page.get_by_text("One photo is with it.")).to_be_visible()


def seen_at_the_desk(
    open_context: Callable[..., BrowserContext], picture: Callable[[Page, str], Path], world: World
) -> None:
    desk = open_context(user=world.ours.desk.user).new_page()
    desk.goto("/s/kiln/")
    follow(desk, "A holder has sent a report about an edge")
    go(desk, desk.locator(".rows a").first)
    expect(desk.get_by_text("It lifts as long as a thumb.")).to_be_visible()
    expect(desk.locator(".report-photos img")).to_have_count(1)
    picture(desk, "holder-report-at-desk")
    press(desk, "Accept: look at the photos")
    expect(desk.get_by_role("heading", name="Left front door")).to_be_visible()
    assert not desk.get_by_role("button", name="looked, clean").count()
    desk.goto("/s/kiln/checks/?show=booked")
    expect(desk.get_by_text("Osk Tarn").first).to_be_visible()


def test_the_holders_pages_have_no_barriers(
    open_context: Callable[..., BrowserContext], world: World, path: str
) -> None:
    """WCAG 2.2 A and AA as axe-core checks them, light and dark."""
    from axe_playwright_python.sync_playwright import Axe

    for scheme in ("light", "dark"):
        context = open_context(size=PHONE, color_scheme=scheme, bypass_csp=True)
        page = context.new_page()
        check = path.rstrip("/")
        for end in ("/", "/report/", "/report/at/left-front-door/", "/reminders/"):
            page.goto(f"{check}{end}")
            found = Axe().run(page)
            assert found.violations_count == 0, found.generate_report()
