"""Every page of a shop with messages between brackets: what stands outside is data, or was never marked."""

import logging
from collections import defaultdict
from zoneinfo import available_timezones

import pytest
from django.apps import apps
from django.conf import settings
from django.db import transaction

from shopwarranty.inspections.public_holidays import countries
from shopwarranty.shops.scope import every_shop, shop_scope
from tests.addresses import OF_SHOP, SHOWS, address
from tests.conftest import World
from tests.every_row import rows_of
from tests.warranty.conftest import plain_pdf as plain_pdf

from .bracketed import brackets, outside, words_in

# Keys of the file format are written the same in every language.
KEYS = ("import-format",)
# The law's own names for its rules.
SOURCES = words_in("all regimes USC CFR Dir Art CRA reg s else common practice no source revised CHECK OFFER")
UNITS = words_in("mm cm ft in min SHA UTF")


def test_what_no_message_said_is_data(world: World, plain_pdf: None, monkeypatch: pytest.MonkeyPatch) -> None:
    logging.disable(logging.CRITICAL)
    with shop_scope(world.ours.shop):
        rows = rows_of(world.ours)
    client, known = world.ours.client(world.ours.owner), data() | SOURCES | UNITS
    unmarked, read = defaultdict(list), 0
    for page in (page for page in OF_SHOP if page.name in SHOWS or len(page.arguments) == 1):
        with transaction.atomic(), brackets(monkeypatch):
            answer = client.get(address(page, world.ours.shop.slug, rows))
            transaction.set_rollback(True)
        if (
            page.name not in KEYS
            and answer.status_code == 200
            and answer["Content-Type"].startswith("text/html")
        ):
            read += 1
            for word in outside(answer.content.decode()) - known:
                unmarked[word].append(page.name)
    logging.disable(logging.NOTSET)
    assert not unmarked, "\n".join(f"{word}: {', '.join(pages)}" for word, pages in unmarked.items())
    assert read > 120


def data() -> set[str]:
    """What the shop itself wrote, and the names that libraries give to zones, countries and languages."""
    names = [*available_timezones(), *(name for _, name in (*settings.LANGUAGES, *countries()))]
    words = words_in(" ".join(names))
    with every_shop():
        for model in apps.get_models():
            for row in model._default_manager.values_list():
                words |= words_in(" ".join(map(str, row)))
    return words


@pytest.mark.parametrize(
    ("html", "words"),
    [
        ("<p>⟦Looked, clean⟧</p>", set()),
        ('<p title="Pages">⟦of ⟦12⟧ all⟧ Bare</p>', {"pages", "bare"}),
        ("<script>var words</script><p>14 mm</p>", {"mm"}),
    ],
)
def test_what_stands_outside_of_brackets_is_found(html: str, words: set[str]) -> None:
    assert outside(html) == words
