"""What an installer would do differently on Monday: no more than three things, each with its reason."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopwarranty.analysis.results import Effect
from shopwarranty.web.nav import address as page_address

from . import said
from .counted import Counted, What, address
from .headline import panels_named, surest, vehicles_of, worst_panels
from .lives import LifeTable
from .reviewing import ShopReview
from .technique_words import do_again
from .words import Words


@dataclass(frozen=True, slots=True)
class Step:
    """`act` and `url`: a button where there is something to open."""

    text: str
    url: str = ""
    act: str = ""


def monday(found: ShopReview, table: LifeTable, words: Words, coming: frozenset[int]) -> list[Step]:
    """In the order to do them."""
    return [step for step in _steps(found, table, words, coming) if step.text][:3]


def _steps(found: ShopReview, table: LifeTable, words: Words, coming: frozenset[int]) -> Iterator[Step]:
    if not found.whole.edges:
        text = _("Book the checks that are due. What nobody looks at teaches nothing.")
        yield Step(text, page_address("checks", words.shop.slug), _("See the checks"))
        return
    effect = surest(found)
    if effect is not None:
        yield Step(_advice(effect, words))
        if effect.contrast.ratio >= 1:
            levels = ((effect.contrast.factor, effect.contrast.level),)
            yield _coming_with(found, table, words, coming, levels)
    yield _first_looks(found, table, words, coming)
    yield _surer(found, words)
    yield _unseen(found, words)


def _advice(effect: Effect, words: Words) -> str:
    contrast = effect.contrast
    if contrast.ratio >= 1:
        return do_again(words, contrast.factor, contrast.level, contrast.reference)
    better = words.with_level(contrast.factor, contrast.level)
    return _("Make \u201c%(better)s\u201d the usual way where the film maker allows it.") % {"better": better}


def _first_looks(found: ShopReview, table: LifeTable, words: Words, coming: frozenset[int]) -> Step:
    """What fails most is looked at first, beginning with the vehicles that come in anyway."""
    worst = worst_panels(found)
    if not worst:
        return Step("")
    text = _("At every check, look at %(panels)s first.") % {"panels": panels_named(worst, words)}
    step = _coming_with(found, table, words, coming, (("panel", worst[0].level),))
    return Step(f"{text} {step.text}".strip(), step.url, step.act)


def _coming_with(
    found: ShopReview,
    table: LifeTable,
    words: Words,
    coming: frozenset[int],
    levels: tuple[tuple[str, str], ...],
) -> Step:
    mask = Counted(What.COMING, levels, coming).mask(table, found.asked)
    count = vehicles_of(table.vehicle[found.asked.rows[mask]])
    if not count:
        return Step("")
    what = {"n": said.count(count), "what": words.with_level(*levels[0])}
    text = ngettext(
        "%(n)s vehicle with \u201c%(what)s\u201d comes in this week; check those places first.",
        "%(n)s vehicles with \u201c%(what)s\u201d come in this week; check those places first.",
        count,
    )
    url = address(words.shop, found.selection, What.COMING, *levels)
    act = ngettext("See the vehicle", "See the %(n)s vehicles", count) % {"n": said.count(count)}
    return Step(text % what, url, act)


def _surer(found: ShopReview, words: Words) -> Step:
    """The open question that needs the fewest further places."""
    wanting = [e for e in found.review.effects if e.more_edges]
    if not wanting or found.selection.exploring:
        return Step("")
    nearest = min(wanting, key=lambda e: e.more_edges or 0)
    what = words.with_level(nearest.contrast.factor, nearest.contrast.level)
    text = _("To know about \u201c%(what)s\u201d, some %(n)s more watched places are needed.")
    return Step(text % {"what": what, "n": rough(nearest.more_edges or 0)})


def _unseen(found: ShopReview, words: Words) -> Step:
    share = found.review.never_seen / max(1, found.review.rows)
    if share < 0.2:
        return Step("")
    text = _("%(p)s of the places were never looked at. Sweep whole panels at the next checks.")
    return Step(text % {"p": said.percent(share, 0)}, address(words.shop, found.selection, What.UNSEEN))


def rough(number: int) -> str:
    """Two digits: more would pretend to know it better."""
    scale = 10 ** max(0, len(str(number)) - 2)
    return said.count(-(-number // scale) * scale)
