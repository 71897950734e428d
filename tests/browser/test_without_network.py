"""The network, the tab or the answer is lost in the middle: the server holds what was entered, once."""

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from shopwarranty.jobs import actions
from shopwarranty.jobs.models import Deviation, Job, PanelWork, Place, Reading, Vehicle
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Change, Member
from shopwarranty.shops.models.people import PhoneReceipt
from shopwarranty.shops.scope import shop_scope
from tests.browser.conftest import PHONE
from tests.browser.hand import go, press
from tests.browser.test_recording import NOW, user_of
from tests.browser.test_recording import vehicle as vehicle

OpenContext = Callable[..., BrowserContext]
PANELS = ("left-front-door", "right-front-door")
KEPT = "async () => (await (await caches.open('pages')).keys()).length"


@pytest.fixture
def job(vehicle: Vehicle) -> Job:
    with shop_scope(vehicle.shop):
        actor = Actor.of(Member.objects.get())
        made: Job = actions.open_job(vehicle=vehicle, actor=actor, now=NOW)
        actions.start_panels(
            job=made, panels=PANELS, catalogue=ShopCatalogue(made.shop), actor=actor, now=NOW
        )
    return made


def kept_job(context: BrowserContext, job: Job) -> Page:
    """The job's page, opened with a network, and all its pages kept."""
    page = context.new_page()
    page.goto(f"/s/kiln/jobs/{job.pk}/?view=list")
    page.evaluate("navigator.serviceWorker.ready")
    groups = page.locator("[data-pages]").all()
    wanted = sum(len((group.get_attribute("data-pages") or "").split()) for group in groups)
    for _try in range(200):
        if page.evaluate(KEPT) >= wanted:
            return page
        page.wait_for_timeout(100)
    raise AssertionError(f"{page.evaluate(KEPT)} of {wanted} pages kept")


def differ(page: Page) -> None:
    go(page, page.locator("a.list-row", has_text="Handle cup").first)
    page.get_by_role("group", name="Post-heated").get_by_role("radio", name="No", exact=True).click(
        force=True
    )
    press(page, "Trim in the way")


def take_a_reading(page: Page, job: Job) -> None:
    page.goto(f"/s/kiln/jobs/{job.pk}/readings/")
    page.get_by_role("spinbutton", name="Air").fill("71")
    press(page, "Save the reading")


def test_e91_what_was_recorded_without_a_network_is_kept_once_after_the_page_was_killed(
    job: Job, vehicle: Vehicle, open_context: OpenContext, picture: Callable[[Page, str], Any]
) -> None:
    context = open_context(size=PHONE, user=user_of(vehicle), service_workers="allow")
    page = kept_job(context, job)
    context.set_offline(True)
    page.goto(f"/s/kiln/jobs/{job.pk}/?view=list")
    expect(page.locator("#from-phone")).to_contain_text("No network")
    page.goto(f"/s/kiln/panels/{panel_of(job).pk}/")
    differ(page)
    expect(page.locator("#unsent-line")).to_have_text("One entry is kept on this phone and not sent yet.")
    press(page, "finished")
    take_a_reading(page, job)
    expect(page.locator("#unsent-line")).to_contain_text("3 entries")
    picture(page, "unsent-390")
    with shop_scope(vehicle.shop):
        assert PhoneReceipt.objects.count() == 0
    page.close(run_before_unload=False)
    context.set_offline(False)
    page = context.new_page()
    page.goto(f"/s/kiln/jobs/{job.pk}/")
    expect(page.locator("#unsent")).to_be_hidden()
    with shop_scope(vehicle.shop):
        assert held(job) == {"place": False, "deviations": 1, "finished": 1, "readings": [21.666666666666668]}
        assert PhoneReceipt.objects.count() == 3
        assert Change.objects.filter(act__in=("values", "panel finished", "reading")).count() == 3


def panel_of(job: Job) -> PanelWork:
    with shop_scope(job.shop_id):
        found: PanelWork = PanelWork.objects.get(job=job, panel=PANELS[0])
    return found


def held(job: Job) -> dict[str, Any]:
    place = Place.objects.get(piece__panel_work__panel=PANELS[0], key="handle")
    return {
        "place": place.post_heated,
        "deviations": Deviation.objects.filter(undone_at__isnull=True).count(),
        "finished": PanelWork.objects.filter(job=job, finished_at__isnull=False).count(),
        "readings": [reading.air_c for reading in Reading.objects.filter(job=job)],
    }
