"""What every page of the review starts from: lives, what is asked of them, figures, the shop's words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from django.http import HttpRequest, QueryDict

from shopwarranty.analysis.results import Review
from shopwarranty.shops.models import Member, Shop

from .forms import NarrowForm
from .lives import LifeTable, version_of
from .reviewing import ShopReview, life_table, review_of
from .selection import Selection
from .who_sees import installers_shown
from .words import Words

NARROWED_BY = ("family", "body", "since", "until", "part", "trials")


@dataclass(frozen=True, slots=True, eq=False)
class Opened:
    table: LifeTable
    form: NarrowForm
    selection: Selection
    found: ShopReview
    words: Words
    installers: frozenset[str]
    version: str


def opened(shop: Shop, member: Member, asked: QueryDict | Mapping[str, str]) -> Opened:
    """The review a request asks for, as this member may see it."""
    version = version_of(shop)
    table = life_table(shop, version)
    said = {key: asked[key] for key in NARROWED_BY if asked.get(key)}
    form = NarrowForm(said, table=table, words=Words(shop, table.own_fields, {}))
    selection = form.selection()
    found = review_of(shop, selection, table, version)
    words = Words(shop, table.own_fields, found.asked.spans)
    return Opened(
        table, form, selection, found, words, installers_shown(shop, member, table.installers), version
    )


def opened_by(request: HttpRequest) -> Opened:
    return opened(request.shop, request.member, request.GET)  # type: ignore[attr-defined]


def without_installers(review: Review, shown: frozenset[str]) -> Review:
    """The review with the figures of those installers only; the comparisons stay adjusted for who laid it."""
    groups = []
    for name, figures in review.groups:
        kept = tuple(f for f in figures if f.level in shown) if name == "installer" else figures
        if kept:
            groups.append((name, kept))
    return replace(review, groups=tuple(groups))
