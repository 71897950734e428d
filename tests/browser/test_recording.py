"""Recording a full front with a finger on a phone: few taps, little time, and no script needed."""

import io
import time
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest
from PIL import Image
from playwright.sync_api import BrowserContext, FilePayload, Page, expect

from shopwarranty.desk.new_shop import open_shop
from shopwarranty.films.models import FilmProduct, Lot, Roll
from shopwarranty.jobs import actions
from shopwarranty.jobs.models import Deviation, Job, MethodVersion, PanelWork, Photo, Place, Vehicle
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Member
from shopwarranty.shops.scope import shop_scope
from tests.browser.conftest import PHONE
from tests.browser.hand import follow, go, press

NOW = datetime(2026, 3, 2, 15, 0, tzinfo=UTC)
A_TAP = 0.4  # seconds a finger takes, on top of what the pages take
MOST_TAPS, MOST_SECONDS = 25, 120
DIFFER = {
    "Left front door": [("Handle cup", "no"), ("Bottom edge", "no")],
    "Right front fender": [("Wheel arch", "no")],
}


@pytest.fixture
def vehicle(transactional_db: None) -> Any:
    """A saved vehicle in a shop with a method and one roll."""
    values = {"time_zone": "America/New_York", "units": "us", "legal_profile": "us"}
    shop = open_shop(
        slug="kiln",
        name="Kiln Lane Film",
        owner_email="o@kiln.example",
        owner_name="O. Kiln",
        now=NOW,
        **values,
    )
    with shop_scope(shop):
        actor = Actor.of(Member.objects.get())
        product = FilmProduct.objects.create(maker="Alder", name="Clear 8", family="clear-protective")
        lot = Lot.objects.create(product=product, number="61-0934")
        Roll.objects.create(product=product, lot=lot, label="R3", width_mm=1524, length_mm=15240)
        made = actions.add_vehicle(body_style="suv", make="Osk", model="Tarn", actor=actor, now=NOW)
    return made


def user_of(vehicle: Vehicle) -> Any:
    with shop_scope(vehicle.shop):
        return Member.objects.select_related("user").get().user


class Finger:
    """Counts what it taps."""

    def __init__(self, page: Page) -> None:
        self.page, self.taps = page, 0

    def link(self, name: str) -> None:
        self.taps += 1
        follow(self.page, name)

    def place(self, name: str) -> None:
        """In the list; the drawing offers the same."""
        self.taps += 1
        go(self.page, self.page.locator("a.list-row", has_text=name).first)

    def press(self, name: str) -> None:
        self.taps += 1
        press(self.page, name)

    def piece(self, group: str, name: str) -> None:
        self.taps += 1
        self.page.get_by_role("group", name=group).get_by_role("radio", name=name, exact=True).click(
            force=True
        )


def record(finger: Finger) -> None:
    finger.link("New job")
    finger.press("Full front, 8 panels")
    for _panel in range(8):
        title = finger.page.get_by_role("heading", level=1).inner_text()
        for place, post_heated in DIFFER.get(title, []):
            finger.place(place)
            finger.piece("Post-heated", post_heated.title())
            finger.press("Trim in the way")
        finger.press(", finished")


def recorded(vehicle: Vehicle) -> tuple[int, int, int]:
    """Finished panels, panels, standing deviations."""
    with shop_scope(vehicle.shop):
        panels = PanelWork.objects.filter(job=Job.objects.get())
        done = panels.filter(finished_at__isnull=False, confirmed_at__isnull=False).count()
        return done, panels.count(), Deviation.objects.filter(undone_at__isnull=True).count()


@pytest.mark.parametrize("scripts", [True, False], ids=["with scripts", "without scripts"])
def test_a_full_front_is_recorded_in_few_taps_and_under_two_minutes(
    vehicle: Any, open_page: Callable[..., Page], scripts: bool
) -> None:
    more = {"size": PHONE, "user": user_of(vehicle), "java_script_enabled": scripts}
    page = open_page(f"/s/kiln/vehicles/{vehicle.pk}/", **more)
    finger, began = Finger(page), time.monotonic()
    record(finger)
    took = time.monotonic() - began + finger.taps * A_TAP
    assert recorded(vehicle) == (8, 8, 3)
    print(f"\n{finger.taps} taps, {took:.0f} s at {A_TAP:g} s a tap")
    assert finger.taps <= MOST_TAPS
    assert took <= MOST_SECONDS


def test_the_dew_point_is_told_while_the_figures_are_stepped(
    vehicle: Any, open_page: Callable[..., Page]
) -> None:
    with shop_scope(vehicle.shop):
        actor = Actor.of(Member.objects.get())
        job = actions.open_job(vehicle=vehicle, actor=actor, now=NOW)
    page = open_page(f"/s/kiln/jobs/{job.pk}/readings/", size=PHONE, user=user_of(vehicle))
    for name in ("Air", "Panel", "Humidity, %"):
        page.get_by_role("button", name=f"{name}: more").click()
    expect(page.locator("#dew-point")).to_contain_text("above the dew point")
    expect(page.get_by_role("spinbutton", name="Air")).to_have_value("68")


def test_nothing_in_the_bay_is_smaller_than_a_gloved_finger_or_scrolls_sideways(
    vehicle: Any, open_page: Callable[..., Page]
) -> None:
    with shop_scope(vehicle.shop):
        actor = Actor.of(Member.objects.get())
        job = actions.open_job(vehicle=vehicle, actor=actor, now=NOW)
    user = user_of(vehicle)
    page = open_page(f"/s/kiln/jobs/{job.pk}/panels/", size=(320, 844), user=user)
    press(page, "Full front")
    press(page, "Start these panels")
    panel = page.url
    follow(page, "Top edge")
    for address in (page.url, panel, f"/s/kiln/jobs/{job.pk}/", f"/s/kiln/jobs/{job.pk}/?view=list"):
        page.goto(address)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), address
        assert too_small(page) == [], address
        assert too_close(page) == [], address


def too_small(page: Page) -> list[str]:
    """Names of what can be pressed and is lower than 64 px; links inside a sentence are text."""
    found: list[str] = page.evaluate(
        """() => [...document.querySelectorAll(".press, .list-row, .pick span, .step, .tick, summary")]
            .filter((part) => part.checkVisibility() && part.getBoundingClientRect().height < 63.5)
            .map((part) => part.textContent.trim().slice(0, 40))"""
    )
    return found


def too_close(page: Page) -> list[str]:
    """Pairs of what can be pressed with less than 8 px between them, in both directions."""
    found: list[str] = page.evaluate(
        """() => {
            const all = ".press, .pick span, .step input, .tick, summary, .list-row";
            const parts = [...document.querySelectorAll(all)]
                .filter((part) => part.checkVisibility() && !part.closest(".foot") && part.offsetWidth)
                .map((part) => [part.textContent.trim().slice(0, 24), part.getBoundingClientRect(), part]);
            const across = (a, b) => Math.max(a.left, b.left) - Math.min(a.right, b.right);
            const down = (a, b) => Math.max(a.top, b.top) - Math.min(a.bottom, b.bottom);
            const near = (a, b) => Math.max(across(a, b), down(a, b)) < 7.5;
            const pairs = [];
            parts.forEach(([name, box, one], n) => parts.slice(n + 1).forEach(([other, there, two]) => {
                const nested = one.contains(two) || two.contains(one);
                if (!nested && near(box, there)) pairs.push(`${name} / ${other}`);
            }));
            return pairs;
        }"""
    )
    return found


def test_what_was_pressed_by_mistake_can_be_undone_from_the_next_page_too(
    vehicle: Any, open_page: Callable[..., Page]
) -> None:
    """Ten seconds long, though the next panel was opened at once."""
    with shop_scope(vehicle.shop):
        actor = Actor.of(Member.objects.get())
        method = MethodVersion.objects.get()
        job = actions.open_job(vehicle=vehicle, method_version=method, actor=actor, now=NOW)
        panels = ("bonnet", "left-front-door")
        catalogue = ShopCatalogue(job.shop)
        actions.start_panels(job=job, panels=panels, catalogue=catalogue, actor=actor, now=NOW)
        first = PanelWork.objects.get(job=job, panel="bonnet")
    page = open_page(f"/s/kiln/panels/{first.pk}/", size=PHONE, user=user_of(vehicle))
    press(page, ", finished")
    follow(page, "All panels")
    press(page, "Undo", exact=True)
    with shop_scope(vehicle.shop):
        assert PanelWork.objects.get(pk=first.pk).finished_at is None


def picture_file(name: str, colour: str) -> FilePayload:
    out = io.BytesIO()
    Image.new("RGB", (400, 300), colour).save(out, "JPEG")
    return FilePayload(name=name, mimeType="image/jpeg", buffer=out.getvalue())


def test_photos_sent_without_a_network_wait_on_the_phone_and_are_kept_once_when_it_is_back(
    vehicle: Vehicle, open_context: Callable[..., BrowserContext], picture: Callable[[Page, str], Any]
) -> None:
    """E91: the tab is closed in between; after that the server holds each photo once."""
    with shop_scope(vehicle.shop):
        actor = Actor.of(Member.objects.get())
        job = actions.open_job(vehicle=vehicle, actor=actor, now=NOW, no_method_reason="first of its kind")
    context = open_context(size=PHONE, user=user_of(vehicle))
    page, address = context.new_page(), f"/s/kiln/jobs/{job.pk}/photos/"
    page.goto(address)
    context.set_offline(True)
    files = [picture_file("one.jpg", "grey"), picture_file("two.jpg", "navy")]
    page.set_input_files("#photos", files)
    page.get_by_role("button", name="Send the photos").click()
    expect(page.locator(".queue-row", has_text="no answer")).to_have_count(2)
    picture(page, "photo-queue-390")
    page.close()
    context.set_offline(False)
    page = context.new_page()
    page.goto(address)
    expect(page.get_by_role("heading", name="2 photos")).to_be_visible()
    page.reload()
    expect(page.locator("#queue")).to_be_hidden()
    with shop_scope(vehicle.shop):
        assert Photo.objects.filter(job=job, taken_from="phone").count() == 2


def test_the_list_does_by_keyboard_alone_what_the_drawing_does(
    vehicle: Any, open_page: Callable[..., Page]
) -> None:
    """A place of the shop's own panel is found in the list, and stated, with Tab, Enter and the arrows."""
    with shop_scope(vehicle.shop):
        actor = Actor.of(Member.objects.get())
        actions.add_shop_panel(
            name="Step board", body_style="suv", edges=["Upper edge"], actor=actor, now=NOW
        )
        job = actions.open_job(vehicle=vehicle, actor=actor, now=NOW)
        catalogue = ShopCatalogue(vehicle.shop)
        own = next(key for key in catalogue.panel_keys("suv") if key in catalogue.own_panels)
        film = actions.FilmChoice(roll=Roll.objects.get())
        actions.start_panels(
            job=job, panels=("bonnet", own), catalogue=catalogue, film=film, actor=actor, now=NOW
        )
    page = open_page(f"/s/kiln/jobs/{job.pk}/?view=list", size=PHONE, user=user_of(vehicle))
    by_tab(page, "Step board")
    page.keyboard.press("Enter")
    by_tab(page, "Upper edge")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    group = page.get_by_role("group", name="Post-heated")
    for _step in range(60):
        page.keyboard.press("Tab")
        if group.locator(":focus").count():
            break
    while not group.get_by_role("radio", name="No", exact=True).is_checked():
        page.keyboard.press("ArrowRight")
    by_tab(page, "Trim in the way")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    with shop_scope(vehicle.shop):
        place = Place.objects.get(piece__panel_work__panel=own, key="edge-1")
        assert (place.post_heated, place.post_heated_basis) == (False, "stated")


def by_tab(page: Page, words: str) -> None:
    """On to the next thing that begins with these words; fails when Tab never gets there."""
    for _step in range(150):
        page.keyboard.press("Tab")
        text = page.evaluate("(document.activeElement.textContent || '').trim()")
        if str(text).startswith(words):
            return
    pytest.fail(f"{words} cannot be reached by Tab")
