"""What every page knows: shop, member, the rooms, the colours. Named in settings as a context processor."""

from typing import Any

from django.http import HttpRequest

from shopwarranty.web import nav
from shopwarranty.web.themes import THEMES, chosen_theme


def page(request: HttpRequest) -> dict[str, Any]:
    """A view's own context wins: a page that is no room itself sets `section` to the room it belongs to."""
    shop = getattr(request, "shop", None)
    member = getattr(request, "member", None)
    known: dict[str, Any] = {
        "shop": shop,
        "member": member,
        "theme": chosen_theme(request),
        "themes": THEMES,
        "theme_url": nav.address("theme"),
        "sign_out_url": nav.address("sign-out"),
        "section": section_of(request),
        "signed_in_name": str(member or getattr(request, "user", "")),
    }
    if shop is not None and member is not None:
        known |= rooms_of(shop.slug, member.roles)
    return known


def rooms_of(slug: str, roles: frozenset[str]) -> dict[str, Any]:
    return {
        "nav": nav.entries(nav.ROOMS, slug, roles),
        "own_nav": nav.entries(nav.OWN, slug, roles),
        "search_url": nav.address("search", slug) if roles & nav.ANYONE else "",
    }


def section_of(request: HttpRequest) -> str:
    """The room whose own address this is."""
    match = request.resolver_match
    return match.view_name if match else ""
