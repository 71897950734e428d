"""Photos that wait on a phone: sealed, told of and not shown to others, sent once, by their member only."""

import base64
import io
import random
from collections.abc import Callable
from typing import Any

import pytest
from PIL import Image
from playwright.sync_api import BrowserContext, FilePayload, Page, expect

from shopwarranty.jobs import actions
from shopwarranty.jobs.models import Job, Photo, Vehicle
from shopwarranty.jobs.shop_catalogue import ShopCatalogue
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Member
from shopwarranty.shops.scope import shop_scope
from tests.browser.conftest import PHONE
from tests.browser.test_recording import NOW, picture_file, user_of
from tests.browser.test_recording import vehicle as vehicle
from tests.browser.test_without_network import kept_job, person, refuse_posts, signed_in

OpenContext = Callable[..., BrowserContext]
JPEG_STARTS = b"\xff\xd8\xff"  # ITU-T T.81: start of image, then the first marker


@pytest.fixture
def job(vehicle: Vehicle) -> Job:
    with shop_scope(vehicle.shop):
        actor = Actor.of(Member.objects.get())
        made: Job = actions.open_job(
            vehicle=vehicle, actor=actor, now=NOW, no_method_reason="first of its kind"
        )
    return made


def noise(name: str) -> FilePayload:
    """Every stretch of its bytes is its own: found in the store only if it lies there in clear."""
    out = io.BytesIO()
    Image.frombytes("RGB", (120, 90), random.Random(7).randbytes(120 * 90 * 3)).save(out, "JPEG")
    return FilePayload(name=name, mimeType="image/jpeg", buffer=out.getvalue())


# Every byte the store holds, whatever it is wrapped in.
HELD = """() => new Promise((ready, failed) => {
    const ask = indexedDB.open("shopwarranty-photos");
    ask.onerror = () => failed(ask.error);
    ask.onsuccess = async () => {
        const parts = [], texts = [];
        const take = async (value) => {
            if (value instanceof ArrayBuffer) parts.push(new Uint8Array(value));
            else if (ArrayBuffer.isView(value)) parts.push(new Uint8Array(value.buffer));
            else if (value instanceof Blob) parts.push(new Uint8Array(await value.arrayBuffer()));
            else if (value && typeof value === "object") {
                for (const one of Object.values(value)) await take(one);
            } else texts.push(String(value));
        };
        const stores = [...ask.result.objectStoreNames], all = [];
        for (const store of stores) {
            const rows = ask.result.transaction(store).objectStore(store).getAll();
            all.push(await new Promise((done) => { rows.onsuccess = () => done(rows.result); }));
        }
        await take(all);
        ask.result.close();
        const text = (bytes) => [...bytes].map((byte) => String.fromCharCode(byte)).join("");
        const counts = all.map((rows) => rows.length);
        ready({ counts, parts: parts.map((bytes) => btoa(text(bytes))), texts });
    };
})"""


def in_clear(page: Page, photo: FilePayload) -> list[str]:
    """What of the photo the phone's own store says without the key."""
    held = page.evaluate(HELD)
    parts = [base64.b64decode(part) for part in held["parts"]]
    assert max(map(len, parts)) >= len(photo["buffer"]), "the photo is not in the store at all"
    stretch = photo["buffer"][-400:-300]
    found = [*(["signature"] if any(part.startswith(JPEG_STARTS) for part in parts) else [])]
    found += ["bytes"] if any(stretch in part for part in parts) else []
    name = photo["name"]
    return found + [text for text in held["texts"] if name in text]


def send(page: Page, *files: FilePayload) -> None:
    page.set_input_files("#photos", list(files))
    page.get_by_role("button", name="Send the photos").click()


def stored(job: Job, page: Page) -> list[Photo]:
    """The job's photos, once the phone holds none any more: it lets go of one only after the answer."""
    for _try in range(300):
        if page.evaluate(HELD)["counts"] == [0, 0]:
            break
        page.wait_for_timeout(100)
    else:
        raise AssertionError("photos still wait on the phone")
    with shop_scope(job.shop_id):
        return list(Photo.objects.filter(job=job).select_related("added_by", "panel_work"))


def test_e91_a_photo_taken_without_a_network_is_sealed_and_sent_once_by_its_member_only(
    job: Job,
    vehicle: Vehicle,
    open_context: OpenContext,
    live_server: Any,
    picture: Callable[[Page, str], Any],
) -> None:
    """The tab is closed without a network; another member opens the bay first, and sends nothing."""
    context = open_context(size=PHONE, user=user_of(vehicle))
    with shop_scope(vehicle.shop):
        owner, other = Member.objects.get(), person("B. Example")
    page, photo = context.new_page(), noise("tailgate-corner.jpg")
    page.goto(f"/s/kiln/jobs/{job.pk}/photos/?stage=intake")
    context.set_offline(True)
    send(page, photo)
    expect(page.locator(".queue-row", has_text="no answer")).to_have_count(1)
    assert in_clear(page, photo) == []
    page.close(run_before_unload=False)
    context.clear_cookies()
    signed_in(context, other, live_server.url)
    context.set_offline(False)
    page = context.new_page()
    page.goto(f"/s/kiln/jobs/{job.pk}/readings/")
    told = "One photo of OK waits on this device, until OK signs in here."
    expect(page.locator("#unsent-photos")).to_contain_text(told)
    picture(page, "photo-of-another-390")
    page.goto(f"/s/kiln/jobs/{job.pk}/photos/")
    expect(page.locator("#unsent-photos")).to_contain_text(told)
    assert in_clear(page, photo) == []
    with shop_scope(vehicle.shop):
        assert not Photo.objects.exists()
    page.close()
    context.clear_cookies()
    signed_in(context, owner, live_server.url)
    page = context.new_page()
    page.goto(f"/s/kiln/jobs/{job.pk}/readings/")
    (kept,) = stored(job, page)
    assert (kept.added_by, kept.stage) == (owner, "intake")
    expect(page.locator("#unsent")).to_be_hidden()
    page.reload()
    expect(page.locator("#unsent")).to_be_hidden()
    assert len(stored(job, page)) == 1


def test_what_waits_is_said_on_every_page_of_the_bay_and_leads_to_its_queue(
    job: Job, vehicle: Vehicle, open_context: OpenContext, picture: Callable[[Page, str], Any]
) -> None:
    context = open_context(size=PHONE, user=user_of(vehicle))
    context.route("**/photos/", refuse_posts)
    page = context.new_page()
    page.goto(f"/s/kiln/jobs/{job.pk}/photos/")
    send(page, picture_file("one.jpg", "grey"), picture_file("two.jpg", "navy"))
    expect(page.locator(".queue-row", has_text="no answer")).to_have_count(2)
    page.goto(f"/s/kiln/jobs/{job.pk}/readings/")
    waits = page.locator("#unsent-photos")
    expect(waits).to_contain_text("2 photos are kept on this phone and not sent yet.")
    picture(page, "photos-wait-390")
    waits.get_by_role("link", name="Open").click()
    expect(page.locator(".queue-row")).to_have_count(2)
    context.unroute("**/photos/")
    page.reload()
    expect(page.get_by_role("heading", name="2 photos")).to_be_visible()
    assert len(stored(job, page)) == 2


def test_a_page_of_one_member_sends_nothing_once_another_is_signed_in(
    job: Job, vehicle: Vehicle, open_context: OpenContext, live_server: Any
) -> None:
    """The first page is still open while the device was switched in another tab."""
    context = open_context(size=PHONE, user=user_of(vehicle))
    with shop_scope(vehicle.shop):
        other = person("B. Example")
    page = context.new_page()
    page.goto(f"/s/kiln/jobs/{job.pk}/photos/")
    context.clear_cookies()
    signed_in(context, other, live_server.url)
    switched = context.new_page()
    switched.goto(f"/s/kiln/jobs/{job.pk}/photos/")
    with page.expect_response(lambda answer: answer.request.method == "POST") as sent:
        send(page, picture_file("one.jpg", "grey"))
    assert sent.value.status == 409
    expect(page.locator(".queue-row")).to_contain_text("sign in again")
    with shop_scope(vehicle.shop):
        assert not Photo.objects.exists()


# As pages of an older version left a photo: all in clear.
LEFT_IN_CLEAR = """([member, address, sent]) => new Promise((ready, failed) => {
    const ask = indexedDB.open("shopwarranty-photos", 1);
    ask.onupgradeneeded = () => ask.result.createObjectStore("photos", { keyPath: "uid" });
    ask.onerror = () => failed(ask.error);
    ask.onsuccess = () => {
        const work = ask.result.transaction("photos", "readwrite"), name = "tailgate-corner.jpg";
        const bytes = Uint8Array.from(atob(sent), (one) => one.charCodeAt(0));
        const file = new File([bytes], name, { type: "image/jpeg" }), uid = crypto.randomUUID();
        const fields = [["panel", ""], ["stage", "handover"], ["taken_at", ""]];
        const phoneTime = 1772460000000;
        work.objectStore("photos").put({ uid, member, address, name, file, fields, phoneTime });
        work.oncomplete = () => { ask.result.close(); ready(); };
    };
})"""


def test_what_an_older_version_left_in_clear_is_sealed_at_once_and_sent(
    job: Job, vehicle: Vehicle, open_context: OpenContext
) -> None:
    context = open_context(size=PHONE, user=user_of(vehicle))
    with shop_scope(vehicle.shop):
        owner = Member.objects.get()
    photo, page = noise("tailgate-corner.jpg"), context.new_page()
    page.goto("/s/kiln/review/")
    address = f"/s/kiln/jobs/{job.pk}/photos/"
    page.evaluate(LEFT_IN_CLEAR, [str(owner.pk), address, base64.b64encode(photo["buffer"]).decode()])
    assert in_clear(page, photo) == ["signature", "bytes", "tailgate-corner.jpg"]
    context.route("**/photos/", refuse_posts)
    page.goto(f"/s/kiln/jobs/{job.pk}/readings/")
    expect(page.locator("#unsent-photos")).to_contain_text("One photo is kept on this phone")
    assert in_clear(page, photo) == []
    context.unroute("**/photos/")
    page.reload()
    (kept,) = stored(job, page)
    assert (kept.added_by, kept.stage, kept.taken_from) == (owner, "handover", "phone")


def test_what_cannot_be_kept_stays_named_until_it_is_put_away(
    job: Job, vehicle: Vehicle, open_context: OpenContext
) -> None:
    page = open_context(size=PHONE, user=user_of(vehicle)).new_page()
    page.goto(f"/s/kiln/jobs/{job.pk}/photos/")
    send(page, FilePayload(name="list.jpg", mimeType="image/jpeg", buffer=b"no picture at all"))
    row = page.locator(".queue-row")
    expect(row).to_contain_text("list.jpg")
    expect(row.get_by_role("button", name="Put away")).to_be_visible()
    said = row.inner_text()
    page.reload()
    expect(row).to_have_text(" ".join(said.split("\n")), use_inner_text=True)
    row.get_by_role("button", name="Put away").click()
    expect(page.locator("#queue")).to_be_hidden()
    page.reload()
    expect(page.locator("#queue")).to_be_hidden()


def test_photos_can_be_taken_on_a_page_the_phone_kept(
    job: Job, vehicle: Vehicle, open_context: OpenContext
) -> None:
    """Opened for the first time without a network, for one panel; the choice of what they show is there."""
    with shop_scope(vehicle.shop):
        catalogue, actor = ShopCatalogue(job.shop), Actor.of(Member.objects.get())
        actions.start_panels(job=job, panels=("bonnet",), catalogue=catalogue, actor=actor, now=NOW)
        work = job.panels.get()
    context = open_context(size=PHONE, user=user_of(vehicle), service_workers="allow")
    page = kept_job(context, job)
    context.set_offline(True)
    page.goto(f"/s/kiln/jobs/{job.pk}/photos/?panel={work.pk}")
    expect(page.locator("#from-phone")).to_contain_text("No network")
    expect(page.get_by_label("They show")).to_have_value(str(work.pk))
    send(page, picture_file("one.jpg", "grey"))
    expect(page.locator(".queue-row", has_text="no answer")).to_have_count(1)
    context.set_offline(False)
    expect(page.get_by_role("heading", name="One photo")).to_be_visible()
    (kept,) = stored(job, page)
    assert kept.panel_work == work


# As if the server's key had changed since: what is sealed cannot be opened by it any more.
ANOTHER_KEY = """() => new Promise((ready) => {
    const ask = indexedDB.open("shopwarranty-photos");
    ask.onsuccess = () => {
        const work = ask.result.transaction("photos", "readwrite"), store = work.objectStore("photos");
        store.getAll().onsuccess = ({ target }) => {
            const iv = new Uint8Array(12);
            for (const row of target.result) store.put({ ...row, said: { ...row.said, iv } });
        };
        work.oncomplete = () => { ask.result.close(); ready(); };
    };
})"""


def test_a_photo_that_no_key_opens_any_more_stays_and_holds_up_no_other(
    job: Job, vehicle: Vehicle, open_context: OpenContext
) -> None:
    context = open_context(size=PHONE, user=user_of(vehicle))
    page = context.new_page()
    page.goto(f"/s/kiln/jobs/{job.pk}/photos/")
    context.set_offline(True)
    send(page, picture_file("one.jpg", "grey"))
    expect(page.locator(".queue-row", has_text="no answer")).to_have_count(1)
    page.evaluate(ANOTHER_KEY)
    context.set_offline(False)
    page.goto(f"/s/kiln/jobs/{job.pk}/photos/")
    expect(page.locator("#unsent-photos")).to_contain_text("was sealed with another key of the server")
    send(page, picture_file("two.jpg", "navy"))
    expect(page.get_by_role("heading", name="One photo")).to_be_visible(timeout=30_000)
    assert page.evaluate(HELD)["counts"] == [1, 1]
    with shop_scope(job.shop_id):
        assert Photo.objects.filter(job=job).count() == 1
