"""The rooms of a shop in the order of the week. An entry whose address does not exist yet is left out.

`web` knows no room: each entry is the name of an address that takes the shop's slug first.
"""

from dataclasses import dataclass

from django.urls import NoReverseMatch, reverse
from django.utils.functional import Promise
from django.utils.translation import pgettext_lazy as _p

ANYONE = frozenset({"owner", "installer", "desk"})
OWNER = frozenset({"owner"})
DESK = frozenset({"owner", "desk"})


@dataclass(frozen=True, slots=True)
class Room:
    """`key` is what a page gives as `section`; `roles` who sees the entry."""

    key: str
    label: str | Promise
    address: str
    roles: frozenset[str] = ANYONE


@dataclass(frozen=True, slots=True)
class Entry:
    key: str
    label: str
    url: str


ROOMS: tuple[Room, ...] = (
    Room("today", _p("page", "Today"), "today"),
    Room("week", _p("page", "Week"), "week"),
    Room("jobs", _p("page", "Jobs"), "jobs"),
    Room("certificates", _p("page", "Certificates"), "certificates"),
    Room("checks", _p("page", "Checks"), "checks"),
    Room("defects", _p("page", "Defects"), "defects"),
    Room("claims", _p("page", "Claims"), "claims"),
    Room("review", _p("page", "Review"), "review"),
    Room("films", _p("page", "Films"), "films"),
)

# Behind the name of who is signed in.
OWN: tuple[Room, ...] = (
    Room("account", _p("page", "My sign-in"), "account"),
    Room("messages", _p("page", "Messages"), "messages", DESK),
    Room("trials", _p("page", "Trials"), "trials"),
    Room("methods", _p("page", "Methods"), "methods", OWNER),
    Room("plans", _p("page", "Warranty plans"), "plans", OWNER),
    Room("check-plans", _p("page", "Check plans"), "check-plans", OWNER),
    Room("members", _p("page", "People"), "members", OWNER),
    Room("shop-settings", _p("page", "Shop settings"), "shop-settings", OWNER),
    Room("import-jobs", _p("page", "Import and export"), "import-jobs", OWNER),
)


def address(name: str, *args: object) -> str:
    """The address of that name, or nothing where there is none."""
    try:
        return reverse(name, args=args)
    except NoReverseMatch:
        return ""


def entries(rooms: tuple[Room, ...], slug: str, roles: frozenset[str]) -> list[Entry]:
    """What a member with these roles sees."""
    found = ((room, address(room.address, slug)) for room in rooms if room.roles & roles)
    return [Entry(room.key, str(room.label), url) for room, url in found if url]
