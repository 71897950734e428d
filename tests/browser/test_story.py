"""One vehicle from the finished install to the review, as the people of the shop would click it."""

import shutil
import subprocess
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import BrowserContext, Page, expect

from shopwarranty.desk.new_shop import open_shop
from shopwarranty.films import actions as films
from shopwarranty.outbox import tick
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Member
from shopwarranty.shops.scope import shop_scope
from tests.browser.conftest import PHONE
from tests.browser.hand import follow, go, press
from tests.conftest import confirm_wording

HANDOVER = datetime(2026, 11, 11, 15, 0, tzinfo=UTC)
VIN = "0DEMXWRA1TF000123"  # synthetic: no maker has a code that starts with 0; its check digit is right
PLATE = "0KL 123"


class Clock:
    """The moment that pages are told; the browser's session keeps the real time."""

    def __init__(self) -> None:
        self.moment = HANDOVER

    def now(self) -> datetime:
        self.moment += timedelta(seconds=1)
        return self.moment


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    ticking = Clock()
    told = SimpleNamespace(now=ticking.now, override=timezone.override)
    monkeypatch.setattr("shopwarranty.shops.middleware.timezone", told)
    return ticking


@pytest.fixture
def owner(transactional_db: None) -> Any:
    """The owner of a shop that opened in spring, with one roll in stock."""
    shop = open_shop(
        slug="kiln",
        name="Kiln Lane Film",
        owner_email="owner@kiln.example",
        owner_name="Ada Owner",
        now=HANDOVER - timedelta(days=200),
        legal_name="Kiln Lane Film LLC",
        street="4 Kiln Lane",
        town="Example City, EX 00000",
        country="US",
        telephone="555-0100",
        email="desk@kiln.example",
        public_url="https://kiln.example",
        time_zone="America/New_York",
        units="us",
        legal_profile="us",
        certificate_prefix="KL",
    )
    with shop_scope(shop):
        member = Member.objects.select_related("user").get()
        actor = Actor.of(member)
        confirm_wording(member)
        values = {"maker": "Alder", "name": "Clear 8", "family": "clear-protective", "finish": "gloss"}
        film = films.add_product(values=values, actor=actor, now=HANDOVER)
        films.add_roll(
            product=film,
            label="R-7",
            lot_number="61-0934",
            lot_unknown_reason="",
            width_mm=1524.0,
            length_mm=18288.0,
            actor=actor,
            now=HANDOVER,
        )
    return member


def put(page: Page, **values: str) -> None:
    """Types into fields by their names."""
    for name, value in values.items():
        page.locator(f"[name={name}]").fill(value)


def choose(page: Page, name: str, value: str) -> None:
    page.locator(f"[name={name}][value={value}]").check()


def record(page: Page) -> None:
    """Vehicle and holder, full front from one roll."""
    page.goto("/s/kiln/jobs/new/")
    follow(page, "add the vehicle")
    put(page, plate=PLATE, vin=VIN, make="Osk", model="Tarn")
    choose(page, "body_style", "suv")
    put(page, holder_name="A. Example", holder_telephone="555-0142", holder_email="owner1@example.com")
    press(page, "Save, then the work")
    page.locator("label", has_text="R-7").locator("input").check()
    press(page, "Full front")


def read_conditions(page: Page, job: str) -> None:
    page.goto(f"{job}readings/")
    put(page, air="68", surface="64", humidity="46")
    press(page, "Save the reading")


def confirm_every_panel(page: Page) -> int:
    """As usual, one tap a panel; returns how many there were."""
    panels = 0
    while page.get_by_role("button", name="finished", exact=False).count():
        go(page, page.locator("[name=finished]"))
        panels += 1
    return panels


def hand_over(page: Page, job: str) -> None:
    page.goto(f"{job}hand-over/")
    while page.get_by_role("button", name="Looked at all of it, clean").count():
        press(page, "Looked at all of it, clean")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Ready to hand over")


def code_on(pdf: bytes, folder: Path) -> str:
    """What an independent reader finds in the QR code of the first page."""
    (folder / "certificate.pdf").write_bytes(pdf)
    subprocess.run(
        ["pdftoppm", "-r", "150", "-png", "-l", "1", "certificate.pdf", "page"], cwd=folder, check=True
    )
    first = next(folder.glob("page*.png"))
    found = subprocess.run(["zbarimg", "-q", "--raw", first], capture_output=True, text=True, check=True)
    return found.stdout.strip()


def read_as_a_stranger(page: Page, path: str, picture: Callable[[Page, str], Path]) -> None:
    page.goto(path)
    expect(page.get_by_role("heading", level=1)).to_contain_text("Genuine")
    words = page.content()
    assert not [private for private in (PLATE, VIN, VIN[-6:], "A. Example", "555-0142") if private in words]
    page.get_by_label("Plate, or the last six").fill("0kl-123")
    press(page, "Compare")
    expect(page.locator("main")).to_contain_text("matches")
    picture(page, "story-public")


def book_and_look(page: Page, picture: Callable[[Page, str], Path]) -> None:
    """The two-week check appears, is booked, and finds one lifting edge."""
    page.goto("/s/kiln/")
    expect(page.locator("main")).to_contain_text("Two-week edge check")
    picture(page, "story-today")
    follow(page, "Book")
    picture(page, "story-book")
    go(page, page.locator("button[name=slot]").first)
    page.goto("/s/kiln/checks/?show=booked")
    follow(page, "Start the check")
    press(page, "Start looking")
    one_edge_lifts(page)
    picture(page, "story-check")
    while page.locator("button[value=sweep]").count():
        go(page, page.locator("button[value=sweep]"))
        if (
            page.locator("button[value=next]").count()
            and not page.locator("button[value=sweep]").is_enabled()
        ):
            go(page, page.locator("button[value=next]"))
    picture(page, "story-check-end")
    press(page, "Finish")
    picture(page, "story-spots")
    for place in page.locator("fieldset.place").all():
        place.locator("[value=clean]").check()
    press(page, "Keep and finish")
    expect(page.get_by_role("heading", level=1)).to_contain_text("1 wrong, 0 not looked at")
    picture(page, "story-check-done")


def one_edge_lifts(page: Page) -> None:
    """The first place of the first panel: an edge lift of 14 mm, visible and stable."""
    place = page.locator("fieldset.place").first
    place.locator("[value=defect]").check()
    place.locator("[name$=kind][value=edge-lift]").check()
    place.locator("[name$=extent]").fill("0.55")
    place.locator("[name$=severity][value='2']").check()


@pytest.mark.skipif(not shutil.which("zbarimg"), reason="zbarimg is not installed: test --setup-only")
def test_from_the_finished_install_to_the_review(
    open_context: Callable[..., BrowserContext],
    picture: Callable[[Page, str], Path],
    owner: Any,
    clock: Clock,
    tmp_path: Path,
    mailoutbox: list[Any],
) -> None:
    context = open_context(size=PHONE, user=owner.user)
    context.set_default_timeout(15_000)
    page = context.new_page()
    record(page)
    follow(page, "All panels")
    job = page.url
    read_conditions(page, job)
    page.goto(job)
    picture(page, "story-recording")
    go(page, page.locator("#panels, .foot").get_by_role("link").last)
    assert confirm_every_panel(page) == 8
    hand_over(page, job)
    picture(page, "story-hand-over")
    press(page, "Hand over and issue")
    picture(page, "story-handed-over")
    answer = context.request.get(page.get_by_role("link", name="Download").get_attribute("href") or "")
    assert answer.headers["content-type"] == "application/pdf"
    public = code_on(answer.body(), tmp_path)
    assert public.startswith("https://kiln.example/certificate/KL-26-0001-")
    read_as_a_stranger(open_context().new_page(), public.removeprefix("https://kiln.example"), picture)
    tick.run(clock.moment)
    assert [mail.to for mail in mailoutbox if mail.to != ["owner@kiln.example"]] == [["owner1@example.com"]]

    clock.moment += timedelta(days=13)
    book_and_look(page, picture)

    clock.moment += timedelta(days=1)
    page.goto("/s/kiln/review/")
    picture(page, "story-review")
    assert "1 failure" in page.locator("main").inner_text()
