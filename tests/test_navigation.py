"""Every entry of the navigation leads somewhere, for everybody who sees it."""

import pytest
from django.urls import reverse

from shopwarranty.shops.access import ROLES_OF
from shopwarranty.web.nav import OWN, ROOMS, Room, address, entries
from tests.addresses import PAGES
from tests.conftest import World

ENTRIES = [*ROOMS, *OWN]


@pytest.mark.parametrize("room", ENTRIES, ids=lambda room: room.key)
def test_an_entry_is_an_address_of_a_shop(room: Room) -> None:
    assert reverse(room.address, args=["kiln"]).startswith("/s/kiln/")


@pytest.mark.parametrize("room", ENTRIES, ids=lambda room: room.key)
def test_an_entry_is_shown_only_to_those_whom_its_page_lets_in(room: Room) -> None:
    views = [page.view for page in PAGES if page.name == room.address]
    assert len(views) == 1
    for view in views:
        assert room.roles <= getattr(view, ROLES_OF), f"{room.key} is shown to somebody it refuses"


@pytest.mark.parametrize("role", ["owner", "installer", "desk"])
def test_every_entry_that_is_shown_opens(world: World, role: str) -> None:
    client = world.ours.client(getattr(world.ours, role))
    shown = entries(ROOMS, "kiln", frozenset({role})) + entries(OWN, "kiln", frozenset({role}))
    assert len(shown) >= 9
    for entry in shown:
        assert client.get(entry.url).status_code == 200, entry.key


def test_what_has_no_address_is_left_out() -> None:
    assert address("no-such-page", "kiln") == ""
