"""A tablet of the bay in a browser: enrolled from the settings, switched by picture and PIN, recorded on."""

from collections.abc import Callable
from typing import Any

from playwright.sync_api import BrowserContext, Page, expect

from shopwarranty.jobs import actions
from shopwarranty.jobs.models import Reading, Vehicle
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Change, Member
from shopwarranty.shops.scope import shop_scope
from tests.bay_device import PIN, with_pin
from tests.browser.conftest import PHONE
from tests.browser.hand import follow, press
from tests.browser.test_recording import NOW, too_close, too_small, user_of
from tests.browser.test_recording import vehicle as vehicle


def test_a_tablet_is_enrolled_and_a_member_records_on_it(
    vehicle: Vehicle, open_context: Callable[..., BrowserContext], picture: Callable[[Page, str], Any]
) -> None:
    with shop_scope(vehicle.shop):
        owner = Member.objects.get()
        actions.open_job(vehicle=vehicle, actor=Actor.of(owner), now=NOW, no_method_reason="first one")
    with_pin(owner)
    desk = open_context(size=(1280, 900), user=user_of(vehicle)).new_page()
    desk.goto("/s/kiln/settings/devices/")
    desk.get_by_label("Name").fill("Tablet, bay 2")
    press(desk, "Show its address")
    picture(desk, "bay-devices-1280")
    address = desk.get_by_label("Address that enrols the device").input_value()
    tablet = open_context(size=PHONE).new_page()
    tablet.goto(address)
    press(tablet, "Take it into use")
    picture(tablet, "bay-door-390")
    assert too_small(tablet) + too_close(tablet) == []
    follow(tablet, "O. Kiln")
    tablet.get_by_label("PIN").fill(PIN)
    picture(tablet, "bay-switch-390")
    press(tablet, "Go on")
    picture(tablet, "bay-home-390")
    assert too_small(tablet) + too_close(tablet) == []
    follow(tablet, "Osk Tarn")
    picture(tablet, "bay-job-390")
    follow(tablet, "Take a reading")
    tablet.get_by_role("spinbutton", name="Air").fill("71")
    press(tablet, "Save the reading")
    with shop_scope(vehicle.shop):
        assert Reading.objects.get().member == owner
        device = Change.objects.get(act="reading").device
        assert device is not None
        assert device.name == "Tablet, bay 2"
    press(tablet, "OK: switch")
    expect(tablet.get_by_role("heading", name="Who is it?")).to_be_visible()
    desk.goto("/s/kiln/settings/devices/")
    picture(desk, "bay-devices-used-1280")
    press(desk, "Revoke")
    shut = tablet.goto("/bay/")
    assert shut is not None
    assert shut.status == 404
