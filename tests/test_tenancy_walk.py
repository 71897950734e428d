"""Every address of the program as a stranger, as another shop's people and as each role."""

import logging
from collections.abc import Iterator
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse

from shopwarranty.jobs.models import Photo
from shopwarranty.shops.access import ROLES_OF
from shopwarranty.shops.scope import every_shop, shop_scope
from shopwarranty.shops.stored_bytes import path_of
from shopwarranty.warranty.models import Certificate
from tests.addresses import OF_SHOP, OPEN, PAGES, SHOWS, Page, address
from tests.bay_device import client_at
from tests.conftest import NOW, ShopPeople, World
from tests.every_row import Rows, rows_of
from tests.kept_apart import names_of
from tests.warranty.conftest import plain_pdf as plain_pdf

ROLES = ("owner", "installer", "desk", "bay")
# put, patch and delete are tried by the owner only: no page knows them, and the walk has to stay short
METHODS = {"owner": ("get", "post", "head", "options", "put", "patch", "delete")}
OTHERS = ("get", "post", "head", "options")
ELSEWHERE = (404, 405)
# Pages whose address alone names nothing, and what they ask for besides.
ASK_FOR_MORE = {
    "calendar-feeds": "whose",
    "promise-costs-behind": "which figure",
    "trial-consent": "a job",
    "trial-draw": "a job",
    "visit-signature": "a signature",
    "wording": "which text",
}


@pytest.fixture(autouse=True)
def quiet() -> Iterator[None]:
    """Thousands of refusals would each be logged with a traceback."""
    logging.disable(logging.CRITICAL)
    yield
    logging.disable(logging.NOTSET)


def client_of(people: ShopPeople, role: str) -> Client:
    """On a device of the bay works the one who could do most elsewhere."""
    if role == "bay":
        return client_at(people.owner, people.owner, NOW)
    return people.client(getattr(people, role))


@pytest.fixture
def rows(world: World, plain_pdf: None) -> Rows:
    with shop_scope(world.ours.shop):
        return rows_of(world.ours)


@pytest.fixture
def their_rows(world: World, plain_pdf: None) -> Rows:
    with shop_scope(world.theirs.shop):
        return rows_of(world.theirs)


def test_every_address_is_in_the_walk() -> None:
    unknown = {page.name for page in PAGES if "shop" not in page.arguments} - set(OPEN)
    assert not unknown, f"open to strangers without a reason: {sorted(unknown)}"
    unlisted = {page.name for page in OF_SHOP if len(page.arguments) > 1} - set(SHOWS)
    assert not unlisted, f"say which row they show: {sorted(unlisted)}"
    gone = (set(OPEN) | set(SHOWS)) - {page.name for page in PAGES}
    assert not gone, f"no longer addresses: {sorted(gone)}"


def test_every_page_of_a_shop_says_who_may_open_it() -> None:
    assert [page.name for page in OF_SHOP if not getattr(page.view, ROLES_OF, None)] == []


def test_a_stranger_is_sent_to_sign_in_from_every_page_of_a_shop(world: World, rows: Rows) -> None:
    for page in OF_SHOP:
        for method in OTHERS:
            answer = getattr(Client(), method)(address(page, world.ours.shop.slug, rows))
            assert (answer.status_code, answer["Location"][:9]) == (302, "/sign-in/"), page.name


@pytest.mark.parametrize("role", ROLES)
def test_another_shops_people_find_neither_our_pages_nor_our_rows(
    world: World, rows: Rows, role: str
) -> None:
    client, ours = client_of(world.theirs, role), names_of(world.ours.shop)
    tried = 0
    for page, method in ((page, method) for page in OF_SHOP for method in METHODS.get(role, OTHERS)):
        for slug in (world.ours.shop.slug, world.theirs.shop.slug):
            answer = ask(client, method, page, slug, rows)
            if answer is None:
                continue
            tried += 1
            may = slug == world.theirs.shop.slug and role not in getattr(page.view, ROLES_OF)
            expected = (403,) if may else ELSEWHERE
            assert answer.status_code in expected, f"{role} {method} {page.name}: {answer.status_code}"
            assert not names_in(answer, ours), f"{role} {method} {page.name}"
    assert tried > 2 * len(OF_SHOP)
    print(f"\n{tried} requests of another shop's {role} for our pages and rows, 0 leaks")


def ask(client: Client, method: str, page: Page, slug: str, rows: Rows) -> Any:
    """Their pages without a row of ours are theirs to open: nothing to ask."""
    if slug == "fennel" and len(page.arguments) == 1:
        return None
    return getattr(client, method)(address(page, slug, rows))


def names_in(answer: Any, names: frozenset[str]) -> set[str]:
    content = b"".join(answer.streaming_content) if answer.streaming else answer.content
    text = content.decode(errors="replace")
    return {name for name in names if name in text}


def test_no_page_of_another_shop_says_a_word_of_ours(world: World, rows: Rows, their_rows: Rows) -> None:
    """Their own pages and rows, opened by their owner; what was found by searching for ours, too."""
    client, ours = world.theirs.client(world.theirs.owner), names_of(world.ours.shop)
    opened = 0
    for page in OF_SHOP:
        answer = client.get(address(page, world.theirs.shop.slug, their_rows))
        assert not names_in(answer, ours), page.name
        opened += answer.status_code == 200
    assert opened > 60
    for page in (page for page in OF_SHOP if len(page.arguments) == 1):
        for words in ("Holder at kiln", "kiln", "KL-", "Tarn"):
            answer = client.get(address(page, world.theirs.shop.slug, their_rows), {"q": words})
            assert names_in(answer, ours) <= {words}, f"{page.name}?q={words}"


def test_the_words_looked_for_are_really_on_our_own_pages(world: World, rows: Rows) -> None:
    """Else the test above could not fail."""
    client, ours = world.ours.client(world.ours.owner), names_of(world.ours.shop)
    for name in ("jobs", "job", "certificate", "vehicle", "roll", "messages", "members", "search"):
        page = next(page for page in OF_SHOP if page.name == name)
        url = address(page, world.ours.shop.slug, rows)
        assert names_in(client.get(url, {"q": "kiln"} if name == "search" else {}), ours), name


@pytest.mark.parametrize("role", ROLES)
def test_each_role_opens_exactly_what_it_may(world: World, rows: Rows, role: str) -> None:
    """Nothing is typed, so that an act is refused with words or done; what it wrote is taken back."""
    client, wrong = client_of(world.ours, role), []
    client.raise_request_exception = False
    for page in OF_SHOP:
        for method in OTHERS:
            status = sent(client, method, address(page, world.ours.shop.slug, rows))
            allowed = role in getattr(page.view, ROLES_OF)
            nothing = (404,) if page.name in ASK_FOR_MORE else ()
            if status not in ((200, 302, 400, 405, 409, *nothing) if allowed else (403,)):
                wrong.append(f"{method} {page.name}: {status}")
    assert not wrong, "\n".join(wrong)


def sent(client: Client, method: str, url: str) -> int:
    with transaction.atomic():
        status: int = getattr(client, method)(url).status_code
        transaction.set_rollback(True)
    return status


def test_stored_files_have_no_address_of_their_own(world: World, rows: Rows) -> None:
    with every_shop():
        hashes = [*Photo.objects.values_list("sha256", flat=True)]
        hashes += Certificate.objects.values_list("pdf_sha256", flat=True)
    assert len(hashes) > 1
    for client in (Client(), world.theirs.client(world.theirs.owner), world.ours.client(world.ours.owner)):
        for sha256 in hashes:
            for start in ("/", "/media/", "/static/", f"/s/{world.theirs.shop.slug}/media/"):
                assert client.get(start + path_of(sha256)).status_code == 404


def test_number_and_code_of_two_shops_certificates_open_nothing(
    world: World, rows: Rows, their_rows: Rows
) -> None:
    with every_shop():
        ours, theirs = (Certificate.objects.get(pk=each.certificate) for each in (rows, their_rows))
    answer = Client().get(reverse("public-certificate", args=[ours.number, ours.code]))
    assert answer.status_code == 200
    assert names_in(answer, frozenset({"Owner at kiln", "AA kiln", "AAKILN"})) == set()
    for number, code in ((ours.number, theirs.code), (theirs.number, ours.code)):
        answer = Client().get(reverse("public-certificate", args=[number, code]))
        assert answer.status_code == 404
        assert not names_in(answer, names_of(world.ours.shop) - {ours.number, ours.code})


def test_a_public_page_says_no_word_of_another_shop(world: World, rows: Rows, their_rows: Rows) -> None:
    with every_shop():
        theirs = Certificate.objects.get(pk=their_rows.certificate)
    answer = Client().get(reverse("public-certificate", args=[theirs.number, theirs.code]))
    assert not names_in(answer, names_of(world.ours.shop))


def test_who_has_left_opens_nothing_any_more(world: World, rows: Rows) -> None:
    client = world.ours.client(world.ours.desk)
    with shop_scope(world.ours.shop):
        type(world.ours.desk).objects.filter(pk=world.ours.desk.pk).update(left_at=world.now)
    assert {client.get(address(page, "kiln", rows)).status_code for page in OF_SHOP} == {404}


def test_an_operator_without_membership_sees_no_page_of_a_shop(world: World, rows: Rows) -> None:
    """The operator's own pages are tested where they are made."""
    from shopwarranty.shops.models import User

    operator = User.objects.create(email="operator@example.com", name="O", is_staff=True, is_superuser=True)
    client = Client()
    client.force_login(operator)
    assert {client.get(address(page, "kiln", rows)).status_code for page in OF_SHOP} == {404}
