"""The page's lines: rates by age, sums by panel and cause, each with the address of what is behind it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from urllib.parse import urlencode

from django.urls import reverse
from django.utils.formats import number_format
from django.utils.translation import gettext as _

from shopwarranty.analysis.claim_rates import AgeRate, Band
from shopwarranty.shops.models import Shop

from .. import said
from .asked import Asked
from .counting import Spent

SINGLE_MONTHS = 24
"""From here on half a year is one line."""


@dataclass(frozen=True, slots=True)
class Count:
    """A number that opens what it counted."""

    text: str
    url: str


@dataclass(frozen=True, slots=True)
class RateCell:
    count: Count
    watched: Count
    rate: str
    between: str


@dataclass(frozen=True, slots=True)
class AgeLine:
    words: str
    claims: RateCell
    remedies: RateCell


@dataclass(frozen=True, slots=True)
class SpentLine:
    name: str
    is_unknown: bool
    remedies: Count
    total: str
    mean: str
    without: Count


class Addresses:
    """Of the lists behind the figures, for what was asked."""

    def __init__(self, shop: Shop, asked: Asked) -> None:
        self.base, self.asked = reverse("promise-costs-behind", args=[shop.slug]), asked

    def of(self, what: str, **more: object) -> str:
        said_too = {key: value for key, value in more.items() if value is not None}
        return f"{self.base}?{urlencode({'of': what, **said_too, **self.asked.query()})}"

    def at_age(self, what: str, band: Band) -> str:
        return self.of(what, first=band.first, last=band.last)


def display_bands(last: int) -> tuple[Band, ...]:
    """Every month of the first two years, then half years, up to the last month anything was watched in."""
    single = [Band(month, month) for month in range(min(last + 1, SINGLE_MONTHS))]
    halves = [Band(month, min(month + 5, last)) for month in range(SINGLE_MONTHS, last + 1, 6)]
    return (*single, *halves)


def band_words(band: Band) -> str:
    if band.last == band.first:
        return _("Month %(month)s") % {"month": band.first + 1}
    return _("Months %(first)s to %(last)s") % {"first": band.first + 1, "last": (band.last or 0) + 1}


def age_lines(claims: Sequence[AgeRate], remedies: Sequence[AgeRate], addresses: Addresses) -> list[AgeLine]:
    return [
        AgeLine(
            band_words(claim.band),
            rate_cell(claim, "claims", addresses),
            rate_cell(remedy, "remedies", addresses),
        )
        for claim, remedy in zip(claims, remedies, strict=True)
    ]


def rate_cell(one: AgeRate, what: str, addresses: Addresses) -> RateCell:
    watched = Count(said.fixed(one.exposure, 1), addresses.at_age(f"{what}-jobs", one.band))
    count = Count(said.count(one.events), addresses.at_age(what, one.band) if one.events else "")
    if one.rate is None or one.interval is None:
        return RateCell(count, watched, said.NOTHING, "")
    ends = (100 * one.interval.low, 100 * one.interval.high)
    return RateCell(count, watched, said.times(100 * one.rate), said.between(ends))


def spent_lines(
    lines: Iterable[Spent], names: dict[str, str], key: str, unknown: str, addresses: Addresses, shop: Shop
) -> list[SpentLine]:
    """`key`: panel or cause, as the address of the list says it."""
    return [
        SpentLine(
            names.get(one.key, one.key),
            one.key == unknown,
            Count(said.count(one.remedies), addresses.of("remedies", **{key: one.key})),
            money(one.total, shop),
            money(one.mean, shop),
            Count(
                said.count(one.without),
                addresses.of("remedies", cost="none", **{key: one.key}) if one.without else "",
            ),
        )
        for one in lines
    ]


def money(amount: Decimal | None, shop: Shop) -> str:
    """In the shop's currency; an unknown amount is said, never zero."""
    if amount is None:
        return _("not recorded")
    figure = number_format(amount.quantize(Decimal("0.01")), 2, use_l10n=True, force_grouping=True)
    return f"{figure}\u00a0{shop.currency}"


def about(amount: float, shop: Shop) -> str:
    """An estimated amount: two digits that mean something, no cents."""
    whole = Decimal(round(amount))
    digits = max(0, len(str(whole)) - 3)
    rounded = whole.quantize(Decimal(1).scaleb(digits)).quantize(Decimal(1))
    return f"{number_format(rounded, 0, use_l10n=True, force_grouping=True)}\u00a0{shop.currency}"
