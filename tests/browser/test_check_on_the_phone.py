"""A check on a phone: taken back for ten seconds, and without a network nothing of it is lost."""

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Locator, Page, expect

from shopwarranty.defects.models import SpotProof
from shopwarranty.inspections.actions import start_visit
from shopwarranty.inspections.models import Finding, Visit
from shopwarranty.jobs.models import PanelIntake, Vehicle
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Member
from shopwarranty.shops.models.people import PhoneReceipt
from shopwarranty.shops.scope import shop_scope
from tests import builders as b
from tests.browser.conftest import PHONE
from tests.browser.hand import follow, go, press
from tests.browser.test_recording import too_small, user_of
from tests.browser.test_recording import vehicle as vehicle
from tests.browser.test_without_network import KEPT

OpenContext = Callable[..., BrowserContext]
AWAY = "No network: the visit cannot be finished yet, and nothing is lost."
BEFORE = "Not finished: something of this visit is not saved or not sent yet."


@pytest.fixture
def visit(vehicle: Vehicle) -> Visit:
    """Two doors of film laid two weeks ago, and the look at them begun."""
    with shop_scope(vehicle.shop):
        panels = ("left-front-door", "right-front-door")
        job = b.a_job(panels=panels, handed_over_on=b.days_ago(14))
        actor = Actor.of(Member.objects.get())
        made: Visit = start_visit(job=job, origin="walk_in", actor=actor, now=b.NOW, today=b.TODAY)
    return made


def panels_of(visit: Visit) -> list[str]:
    """The address of each panel of the visit in walking order."""
    with shop_scope(visit.shop_id):
        works = list(visit.job.panels.order_by("walk").values_list("pk", flat=True))
    return [f"/s/kiln/visits/{visit.pk}/panels/{work}/" for work in works]


def said(visit: Visit) -> list[tuple[str, str]]:
    with shop_scope(visit.shop_id):
        rows = Finding.objects.filter(visit=visit, corrected_at__isnull=True)
        return list(rows.values_list("result", "said"))


def all_kept(page: Page) -> None:
    """Every page of the visit lies on the phone."""
    page.evaluate("navigator.serviceWorker.ready")
    groups = page.locator("[data-pages]").all()
    wanted = sum(len((group.get_attribute("data-pages") or "").split()) for group in groups)
    until(page, KEPT, wanted)


def until(page: Page, script: str, enough: int) -> None:
    for _try in range(300):
        if page.evaluate(script) >= enough:
            return
        page.wait_for_timeout(100)
    raise AssertionError(f"{page.evaluate(script)} of {enough}")


def all_sent(page: Page, visit: Visit, entries: int) -> None:
    expect(page.locator("#unsent")).to_be_hidden(timeout=30_000)
    with shop_scope(visit.shop_id):
        assert PhoneReceipt.objects.count() == entries


def clean(place: Locator) -> None:
    place.get_by_role("radio", name="Clean", exact=True).click(force=True)


def test_panel_clean_is_taken_back_for_ten_seconds_from_the_next_pages_too(
    visit: Visit, vehicle: Vehicle, open_context: OpenContext, picture: Callable[[Page, str], Any]
) -> None:
    page = open_context(size=PHONE, user=user_of(vehicle)).new_page()
    first, _second = panels_of(visit)
    page.goto(first)
    go(page, page.locator("[name=act][value=sweep]"))
    expect(page.locator(".notice-success")).to_contain_text("more places looked at and clean.")
    picture(page, "check-undo-390")
    follow(page, "Back to")
    press(page, "Undo", exact=True)
    expect(page.locator(".notice-success")).to_contain_text("Taken back")
    assert said(visit) == []


def test_panel_clean_is_taken_back_without_a_network_too(
    visit: Visit, vehicle: Vehicle, open_context: OpenContext
) -> None:
    context = open_context(size=PHONE, user=user_of(vehicle), service_workers="allow")
    page, (first, second) = context.new_page(), panels_of(visit)
    page.goto(first)
    all_kept(page)
    context.set_offline(True)
    page.goto(first)
    go(page, page.locator("[name=act][value=sweep]"))
    assert page.url.endswith(second)
    expect(page.locator(".notice", has_text="Left front door: kept on this phone.")).to_be_visible()
    press(page, "Undo", exact=True)
    assert page.url.endswith(first)
    expect(page.locator("#unsent")).to_be_hidden()
    context.set_offline(False)
    page.goto(second)
    expect(page.locator("#from-phone")).to_be_hidden()
    assert said(visit) == []
    with shop_scope(visit.shop_id):
        assert not PhoneReceipt.objects.exists()


def test_a_finding_that_was_tapped_is_taken_back_with_one_press(
    visit: Visit, vehicle: Vehicle, open_context: OpenContext
) -> None:
    page = open_context(size=PHONE, user=user_of(vehicle)).new_page()
    page.goto(panels_of(visit)[0])
    clean(page.locator(".place").first)
    go(page, page.locator("button.press[name=act][value=next]"))
    expect(page.locator(".notice-success")).to_contain_text("one place written down.")
    assert said(visit) == [("clean", "tapped")]
    press(page, "Undo", exact=True)
    assert said(visit) == []


def test_e91_a_check_walked_without_a_network_says_what_is_kept_and_is_finished_when_it_is_back(
    visit: Visit, vehicle: Vehicle, open_context: OpenContext, picture: Callable[[Page, str], Any]
) -> None:
    """Both doors swept and the end reached offline, the tab killed; afterwards all is there, once, and the
    visit goes through its second look. The name and the signature never lay on the phone."""
    context = open_context(size=PHONE, user=user_of(vehicle), service_workers="allow")
    page, (first, _second) = context.new_page(), panels_of(visit)
    page.goto(first)
    all_kept(page)
    context.set_offline(True)
    page.goto(first)
    for _panel in range(2):
        go(page, page.locator("[name=act][value=sweep]"))
    expect(page.locator("#end-later")).to_contain_text(AWAY)
    page.get_by_label("Note").fill("washed before")
    page.get_by_label("Seen with").fill("A. Example")
    page.get_by_role("button", name="Finish").click()
    expect(page.get_by_label("Seen with")).to_have_value("A. Example")
    expect(page.locator("#unsent-line")).to_contain_text("2 entries are kept on this phone and not sent yet.")
    picture(page, "check-end-offline-390")
    assert too_small(page) == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.close(run_before_unload=False)
    context.set_offline(False)
    page = context.new_page()
    page.goto(f"/s/kiln/visits/{visit.pk}/")
    expect(page.locator("#unsent-line")).to_have_text(
        "One entry is typed, but not saved yet.", timeout=30_000
    )
    expect(page.get_by_label("Note")).to_have_value("washed before")
    expect(page.get_by_label("Seen with")).to_have_value("")
    assert set(said(visit)) == {("clean", "swept")}
    page.get_by_label("Seen with").fill("A. Example")
    press(page, "Finish", exact=True)
    expect(page.get_by_role("heading", level=1)).to_have_text("Look at 2 places once more")
    for place in page.locator("fieldset.place").all():
        clean(place)
    press(page, "Keep and finish")
    with shop_scope(vehicle.shop):
        done = Visit.objects.get(pk=visit.pk)
        assert (done.state, done.note, done.signed_name) == ("finished", "washed before", "A. Example")
        assert SpotProof.objects.filter(found="clean").count() == 2
        assert PhoneReceipt.objects.count() == 4


def test_a_visit_is_not_finished_over_what_is_typed_and_not_saved(
    visit: Visit, vehicle: Vehicle, open_context: OpenContext
) -> None:
    """Finished, it would refuse what was tapped on a panel and never saved there."""
    page = open_context(size=PHONE, user=user_of(vehicle)).new_page()
    page.goto(panels_of(visit)[0])
    clean(page.locator(".place").first)
    until(page, TYPED, 1)
    page.goto(f"/s/kiln/visits/{visit.pk}/")
    page.get_by_role("button", name="Finish", exact=True).click()
    expect(page.locator("#end-later")).to_contain_text(BEFORE)
    page.locator("#unsent-fold summary").click()
    go(page, page.locator("li.unsent-row", has_text="door").get_by_role("link", name="Open"))
    go(page, page.locator("button.press[name=act][value=next]"))
    page.goto(f"/s/kiln/visits/{visit.pk}/")
    press(page, "Finish", exact=True)
    with shop_scope(vehicle.shop):
        assert Visit.objects.get(pk=visit.pk).state == "finished"
        assert visit.findings.filter(result="clean", said="tapped").count() == 1


TYPED = """() => new Promise((ready) => {
    const ask = indexedDB.open("shopwarranty-entries");
    ask.onsuccess = () => {
        const rows = ask.result.transaction("entries").objectStore("entries").getAll();
        rows.onsuccess = () => ready(rows.result.filter((row) => row.state === "typed").length);
    };
})"""


def test_the_second_look_waits_on_the_phone_when_the_network_goes_in_its_middle(
    visit: Visit, vehicle: Vehicle, open_context: OpenContext
) -> None:
    context = open_context(size=PHONE, user=user_of(vehicle), service_workers="allow")
    page, (first, _second) = context.new_page(), panels_of(visit)
    page.goto(first)
    all_kept(page)
    for _panel in range(2):
        go(page, page.locator("[name=act][value=sweep]"))
    press(page, "Finish", exact=True)
    context.set_offline(True)
    for place in page.locator("fieldset.place").all():
        clean(place)
    press(page, "Keep and finish")
    expect(page.locator("#unsent-line")).to_contain_text("One entry is kept on this phone and not sent yet.")
    page.close(run_before_unload=False)
    with shop_scope(vehicle.shop):
        assert not SpotProof.objects.exclude(found="").exists()
    context.set_offline(False)
    page = context.new_page()
    page.goto(first)
    expect(page.get_by_role("heading", level=1)).to_contain_text("looked at, 0 wrong", timeout=30_000)
    with shop_scope(vehicle.shop):
        assert Visit.objects.get(pk=visit.pk).state == "finished"
        assert SpotProof.objects.filter(found="clean").count() == 2


def test_how_a_panel_came_is_kept_without_a_network_but_no_name(
    visit: Visit, vehicle: Vehicle, open_context: OpenContext
) -> None:
    with shop_scope(vehicle.shop):
        work = visit.job.panels.order_by("walk")[0]
        PanelIntake.objects.create(panel_work=work, at=b.NOW, marks="chip", acknowledged_by="C. Example")
        visit.job.__class__.objects.filter(pk=visit.job_id).update(
            state="open", handed_over_on=None, handed_over_at=None
        )
    context = open_context(size=PHONE, user=user_of(vehicle), service_workers="allow")
    page = context.new_page()
    page.goto(f"/s/kiln/jobs/{visit.job_id}/?view=list")
    all_kept(page)
    context.set_offline(True)
    page.goto(f"/s/kiln/panels/{work.pk}/intake/")
    assert "C. Example" not in page.content()
    page.get_by_label("Old marks").fill("chip, 3 mm, rear corner")
    page.get_by_label("Shown to").fill("D. Example")
    press(page, "Save")
    page.locator("#unsent-fold summary").click()
    expect(page.locator("li.unsent-row")).to_contain_text("Names and signatures are not kept on a phone")
    context.set_offline(False)
    all_sent(page, visit, entries=1)
    with shop_scope(vehicle.shop):
        intake = PanelIntake.objects.get()
        assert (intake.marks, intake.acknowledged_by) == ("chip, 3 mm, rear corner", "C. Example")
