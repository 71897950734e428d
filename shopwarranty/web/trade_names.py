"""The trade's words as this shop's readers say them: bonnet or hood, translated where it can be."""

from typing import Protocol

from django.utils.translation import gettext

from shopwarranty.web.formats import ShopLike


class Named(Protocol):
    """Anything of the catalogue that carries its British and its American name."""

    @property
    def name(self) -> str: ...
    @property
    def name_us(self) -> str: ...


def is_american(shop: ShopLike | None) -> bool:
    return shop is not None and shop.units == "us"


def trade_name(thing: Named, shop: ShopLike | None) -> str:
    """A shop with US units reads American words; a name a shop made up has only one."""
    word = thing.name_us if is_american(shop) else thing.name
    return gettext(word) if word else ""


def first_upper(words: str) -> str:
    return words[:1].upper() + words[1:]
