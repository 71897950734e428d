"""Every page in German and in Spanish: none breaks, and what fills a field is written as browsers read it."""

import logging
import re
from html.parser import HTMLParser

import pytest
from django.db import transaction
from django.forms import DateField
from django.test import Client
from django.urls import reverse
from django.utils import translation

from shopwarranty.shops.models import Shop, User
from shopwarranty.shops.scope import shop_scope
from tests.addresses import OF_SHOP, SHOWS, address
from tests.conftest import World
from tests.every_row import rows_of
from tests.warranty.conftest import plain_pdf as plain_pdf

from .catalogues import LANGUAGES

# What an input may be filled with: dates, times and floating-point numbers of the WHATWG HTML standard.
HOLDS = {
    "date": re.compile(r"\d{4}-\d\d-\d\d"),
    "time": re.compile(r"\d\d:\d\d(:\d\d)?"),
    "datetime-local": re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d)?"),
    "number": re.compile(r"-?\d+(\.\d+)?"),
}


class Inputs(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.wrong: list[str] = []
        self.language = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = {name: value or "" for name, value in attrs}
        if tag == "html":
            self.language = said.get("lang", "")
        form = HOLDS.get(said.get("type", "")) if tag == "input" else None
        for name in ("value", "min", "max"):
            value = said.get(name, "")
            if form and value and not form.fullmatch(value):
                self.wrong.append(f"{said.get('name')} {name}={value}")


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_page_breaks_and_no_field_is_filled_in_vain(world: World, plain_pdf: None, language: str) -> None:
    logging.disable(logging.CRITICAL)
    shop = world.theirs.shop
    Shop.objects.filter(pk=shop.pk).update(language=language)
    User.objects.filter(pk=world.theirs.owner.user_id).update(language=language)
    with shop_scope(shop):
        rows = rows_of(world.theirs)
    client, faults, read = world.theirs.client(world.theirs.owner), [], 0
    client.raise_request_exception = False
    for page in (page for page in OF_SHOP if page.name in SHOWS or len(page.arguments) == 1):
        with transaction.atomic():
            answer = client.get(address(page, shop.slug, rows))
            transaction.set_rollback(True)
        if answer.status_code >= 500:
            faults.append(f"{page.name}: {answer.status_code}")
        if answer.status_code == 200 and answer["Content-Type"].startswith("text/html"):
            inputs = Inputs()
            inputs.feed(answer.content.decode())
            faults += [f"{page.name}: {wrong}" for wrong in inputs.wrong]
            read += inputs.language == language
    logging.disable(logging.NOTSET)
    assert not faults, "\n".join(faults)
    assert read > 120


@pytest.mark.parametrize(
    ("language", "words"), [("de", "Anmelden"), ("es", "Iniciar sesión"), ("en", "Sign in")]
)
def test_a_stranger_reads_the_language_of_the_browser(db: None, language: str, words: str) -> None:
    answer = Client().get(reverse("sign-in"), headers={"accept-language": language})
    assert words in answer.content.decode()


@pytest.mark.parametrize("typed", ["de 25.11.2026", "es 25/11/2026", "de 2026-11-25", "es 2026-11-25"])
def test_a_day_may_be_typed_as_the_language_writes_it(typed: str) -> None:
    language, _, day = typed.partition(" ")
    with translation.override(language):
        found = DateField().clean(day)
        assert str(found) == "2026-11-25"
        assert 'value="2026-11-25"' in DateField().widget.render("on", found)
