"""The network, the tab or the answer is lost in the middle: the server holds what was entered, once."""

import gzip
from collections.abc import Callable
from contextlib import suppress
from typing import Any

import pytest
from django.db import OperationalError
from playwright.sync_api import BrowserContext, Page, Response, Route, expect

from shopwarranty.jobs import actions
from shopwarranty.jobs.models import Deviation, Job, MethodVersion, PanelWork, Place, Reading, Vehicle
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Change, Member, User
from shopwarranty.shops.models.people import PhoneReceipt
from shopwarranty.shops.scope import shop_scope
from tests.browser.conftest import PHONE, session_cookie
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
        made: Job = actions.open_job(
            vehicle=vehicle, method_version=MethodVersion.objects.get(), actor=actor, now=NOW
        )
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
    press(page, ", finished")
    take_a_reading(page, job)
    expect(page.locator("#unsent-line")).to_contain_text("3 entries")
    picture(page, "unsent-390")
    with shop_scope(vehicle.shop):
        assert PhoneReceipt.objects.count() == 0
    page.close(run_before_unload=False)
    context.set_offline(False)
    page = context.new_page()
    page.goto(f"/s/kiln/jobs/{job.pk}/")
    all_sent(page, job.shop_id, entries=3)
    with shop_scope(vehicle.shop):
        assert held(job) == {"place": False, "deviations": 1, "finished": 1, "readings": [21.666666666666668]}
        assert PhoneReceipt.objects.count() == 3
        assert Change.objects.filter(act__in=("values", "panel finished", "reading")).count() == 3


def test_what_was_sealed_before_the_secret_key_changed_is_opened_with_the_key_from_before(
    job: Job, vehicle: Vehicle, open_context: OpenContext, settings: Any
) -> None:
    context = open_context(size=PHONE, user=user_of(vehicle), service_workers="allow")
    page = kept_job(context, job)
    context.set_offline(True)
    take_a_reading(page, job)
    expect(page.locator("#unsent-line")).to_have_text("One entry is kept on this phone and not sent yet.")
    page.close(run_before_unload=False)
    settings.SECRET_KEY_FALLBACKS = [settings.SECRET_KEY]
    settings.SECRET_KEY = "another key altogether, made for this test alone"
    context.set_offline(False)
    page = context.new_page()
    page.goto(f"/s/kiln/jobs/{job.pk}/")
    all_sent(page, job.shop_id, entries=1)
    with shop_scope(vehicle.shop):
        assert held(job)["readings"] == [21.666666666666668]


def test_what_no_key_opens_any_more_is_said_stays_and_holds_nothing_up(
    job: Job, vehicle: Vehicle, open_context: OpenContext, settings: Any, live_server: Any
) -> None:
    context = open_context(size=PHONE, user=user_of(vehicle), service_workers="allow")
    page = kept_job(context, job)
    context.set_offline(True)
    take_a_reading(page, job)
    expect(page.locator("#unsent-line")).to_have_text("One entry is kept on this phone and not sent yet.")
    page.close(run_before_unload=False)
    settings.SECRET_KEY = "another key altogether, made for this test alone"
    context.add_cookies([session_cookie(user_of(vehicle), live_server.url)])  # signs in anew
    context.set_offline(False)
    page = context.new_page()
    take_a_reading(page, job)
    for _try in range(2):
        expect(page.locator("#unsent-others")).to_have_text(
            "One entry on this phone was sealed with another key of the server and cannot be opened."
            " Leave the phone as it is and tell the operator."
        )
        page.goto(f"/s/kiln/jobs/{job.pk}/readings/")
    with shop_scope(vehicle.shop):
        assert held(job)["readings"] == [21.666666666666668]


def all_sent(page: Page, shop: int, entries: int) -> None:
    """The server has them, and the page says so: its line is hidden also before the script has looked.

    While the server writes, the memory that it shares with the test may be locked.
    """
    for _try in range(200):
        with shop_scope(shop), suppress(OperationalError):
            if PhoneReceipt.objects.count() >= entries:
                break
        page.wait_for_timeout(100)
    expect(page.locator("#unsent")).to_be_hidden()


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


def signed_in(context: BrowserContext, member: Member, url: str) -> None:
    context.add_cookies([session_cookie(member.user, url)])


def test_e91_a_lost_answer_stores_once(job: Job, vehicle: Vehicle, open_context: OpenContext) -> None:
    """The server has it, the answer does not arrive; it is sent again when the phone is back."""
    context = open_context(size=PHONE, user=user_of(vehicle))
    page = context.new_page()
    page.goto(f"/s/kiln/jobs/{job.pk}/readings/")
    lost: list[int] = []

    def lose(route: Route) -> None:
        if route.request.method != "POST" or lost:
            return route.fallback()
        lost.append(route.fetch().status)
        return route.abort()

    page.route("**/readings/", lose)
    page.get_by_role("spinbutton", name="Air").fill("71")
    press(page, "Save the reading")
    all_sent(page, job.shop_id, entries=1)
    with shop_scope(vehicle.shop):
        assert lost == [200]
        assert Reading.objects.filter(job=job).count() == 1
        assert PhoneReceipt.objects.count() == 1


TYPED = "71.125"  # too long to stand in an identifier or a sealed text by chance


def test_entries_of_one_member_are_sealed_and_only_counted_for_another(
    job: Job, vehicle: Vehicle, open_context: OpenContext, live_server: Any
) -> None:
    context = open_context(size=PHONE, user=user_of(vehicle))
    with shop_scope(vehicle.shop):
        other = person("B. Example")
    context.route("**/readings/", refuse_posts)
    page = context.new_page()
    page.goto(f"/s/kiln/jobs/{job.pk}/readings/")
    page.get_by_role("spinbutton", name="Air").fill(TYPED)
    page.get_by_role("button", name="Save the reading").click()
    page.wait_for_url(f"**/jobs/{job.pk}/")
    expect(page.locator("#unsent-line")).to_contain_text("One entry is kept")
    page.close()
    context.clear_cookies()
    signed_in(context, other, live_server.url)
    page = context.new_page()
    page.goto(f"/s/kiln/jobs/{job.pk}/readings/")
    waits = "One entry of OK waits on this device, until OK signs in here."
    expect(page.locator("#unsent-others")).to_have_text(waits)
    expect(page.locator("#unsent-rows li")).to_have_count(0)
    stored = page.evaluate(STORED)
    assert TYPED not in stored
    assert "Reading" not in stored
    with shop_scope(vehicle.shop):
        assert Reading.objects.count() == 0


def refuse_posts(route: Route) -> None:
    if route.request.method == "POST":
        route.abort()
    else:
        route.fallback()


def person(name: str) -> Member:
    user = User.objects.create(email="b@kiln.example", name=name)
    made: Member = Member.objects.create(user=user, name=name, joined_at=NOW, is_installer=True)
    return made


# Everything of the store as text, its bytes as Latin-1.
STORED = """() => new Promise((ready) => {
    const ask = indexedDB.open("shopwarranty-entries", 1);
    ask.onsuccess = () => {
        const rows = ask.result.transaction("entries").objectStore("entries").getAll();
        rows.onsuccess = () => ready(JSON.stringify(rows.result.map(({ at, open, ...row }) => (
            { ...row, said: new TextDecoder("latin1").decode(row.said.bytes) }))));
    };
})"""


def test_the_recording_page_weighs_at_most_150_kb_and_asks_nobody_else(
    job: Job, open_context: OpenContext, vehicle: Vehicle
) -> None:
    """First load, gzip at level 6 as servers do, without photos; the limit is ours."""
    context = open_context(size=PHONE, user=user_of(vehicle))
    page = context.new_page()
    answers: list[Response] = []
    page.on("response", lambda answer: answers.append(answer))
    page.goto(f"/s/kiln/panels/{panel_of(job).pk}/")
    page.wait_for_load_state("networkidle")
    weights = {answer.url: len(gzip.compress(answer.body(), 6)) for answer in answers}
    heads = sum(len(str(answer.all_headers())) for answer in answers)
    total = sum(weights.values()) + heads
    print(f"\n{len(answers)} answers, {total / 1000:.1f} kB with their heads")
    assert total <= 150_000
    origin = page.evaluate("location.origin")
    assert all(url.startswith(f"{origin}/") for url in weights)
