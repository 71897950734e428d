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
from .technique_words import do_again, subject
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
            yield _due_with(found, table, words, coming, effect)
    yield _first_looks(found, table, words, coming)
    yield _surer(found, words)
    yield _unseen(found, words)


def _advice(effect: Effect, words: Words) -> str:
    contrast = effect.contrast
    if contrast.ratio >= 1:
        return do_again(words, contrast.factor, contrast.level, contrast.reference)
    better = words.with_level(contrast.factor, contrast.level)
    return _("Make “%(better)s” the usual way where the film maker allows it.") % {"better": better}


def _first_looks(found: ShopReview, table: LifeTable, words: Words, coming: frozenset[int]) -> Step:
    """What fails most is looked at first, beginning with the vehicles that are due anyway."""
    worst = worst_panels(found)
    if not worst:
        return Step("")
    panels = {"panels": panels_named(worst, words)}
    level = ("panel", worst[0].level)
    count = _vehicles_due(found, table, coming, level)
    if not count:
        return Step(_("At every check, look at %(panels)s first.") % panels)
    text = ngettext(
        "At every check, look at %(panels)s first; %(n)s vehicle with it is due this week.",
        "At every check, look at %(panels)s first; %(n)s vehicles with it are due this week.",
        count,
    )
    return _due_step(text % {**panels, "n": said.count(count)}, found, words, count, level)


def _due_with(
    found: ShopReview, table: LifeTable, words: Words, coming: frozenset[int], effect: Effect
) -> Step:
    """Vehicles due for a check that have what goes with failures."""
    level = (effect.contrast.factor, effect.contrast.level)
    count = _vehicles_due(found, table, coming, level)
    if not count:
        return Step("")
    text = ngettext(
        "%(n)s vehicle with %(what)s is due for a check this week; look there first.",
        "%(n)s vehicles with %(what)s are due for a check this week; look there first.",
        count,
    )
    what = {"n": said.count(count), "what": subject(words, *level)}
    return _due_step(text % what, found, words, count, level)


def _due_step(text: str, found: ShopReview, words: Words, count: int, level: tuple[str, str]) -> Step:
    act = ngettext("See the vehicle", "See the %(n)s vehicles", count) % {"n": said.count(count)}
    return Step(text, address(words.shop, found.selection, What.COMING, level), act)


def _vehicles_due(found: ShopReview, table: LifeTable, coming: frozenset[int], level: tuple[str, str]) -> int:
    mask = Counted(What.COMING, (level,), coming).mask(table, found.asked)
    return vehicles_of(table.vehicle[found.asked.rows[mask]])


def _surer(found: ShopReview, words: Words) -> Step:
    """The open question that needs the fewest further places."""
    wanting = [e for e in found.review.effects if e.more_edges]
    if not wanting or found.selection.exploring:
        return Step("")
    nearest = min(wanting, key=lambda e: e.more_edges or 0)
    what = words.with_level(nearest.contrast.factor, nearest.contrast.level)
    text = _("To know about “%(what)s”, some %(n)s more watched places are needed.")
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
