"""The answer in words, first on the page: which panels fail most, and how sure that is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopwarranty.analysis.groups import GroupFigure
from shopwarranty.analysis.results import Effect
from shopwarranty.web.trade_names import first_upper

from . import said
from .columns import IntArray
from .counted import What, address
from .reviewing import ShopReview
from .tables import is_few
from .technique_words import subject
from .words import Words

PERHAPS = 0.8
"""From this chance of being among the three worst a panel is named, though not yet for certain."""

MOST_NAMED = 3


@dataclass(frozen=True, slots=True)
class Figure:
    """A sentence that leads to the places it was counted from."""

    text: str
    url: str = ""


Sentence = tuple[Figure, ...]
"""Pieces of one line: those with an address lead to the places they count."""


@dataclass(frozen=True, slots=True)
class Answer:
    """`heading` is the answer; `lines` what it was counted from and how sure it is."""

    heading: str
    lines: tuple[Sentence, ...]


def answer(found: ShopReview, words: Words) -> Answer:
    if not found.whole.edges:
        return _nothing_seen(found, words)
    if not found.review.failures:
        return _nothing_failed(found, words)
    if not found.ranked:
        return _too_few(found, words)
    if found.selection.exploring:
        return _explored(found, words)
    worst = worst_panels(found)
    heading = _named(worst, words) if worst else _perhaps(found, words)
    lines = [_panel_line(found, words, f) for f in worst] or [_whole_line(found, words)]
    effect = surest(found)
    if effect is not None:
        heading = f"{heading} {effect_sentence(effect, words)}"
        lines.append(_effect_line(found, words, effect))
    return Answer(heading, tuple(lines))


def _explored(found: ShopReview, words: Words) -> Answer:
    """Of a part somebody chose: what is highest is an estimate, not an answer."""
    top = [f for f in found.table("panel") if f.shrunken is not None and not is_few(f)][:1]
    if not top:
        return Answer(_("Exploring: no panel has enough to say."), (_whole_line(found, words),))
    heading = _("Exploring: highest estimate here, %(panel)s.") % {"panel": words.panel(top[0].level)}
    return Answer(heading, (_panel_line(found, words, top[0]), _whole_line(found, words)))


def worst_panels(found: ShopReview) -> list[GroupFigure]:
    """Panels that fail more often than the whole beyond what luck explains, the worst first."""
    return [
        f
        for f in found.table("panel")
        if f.shrunken_interval is not None and f.shrunken_interval.low > 1 and not is_few(f)
    ][:MOST_NAMED]


def surest(found: ShopReview) -> Effect | None:
    """The claim that holds against any false claim at all; none on a page that explores."""
    sure = () if found.selection.exploring else found.review.headline
    return sure[0] if sure else None


def _named(worst: Sequence[GroupFigure], words: Words) -> str:
    heading = ngettext("%(panels)s fails most.", "%(panels)s fail most.", len(worst))
    return first_upper(heading % {"panels": panels_named(worst, words)})


def panels_named(worst: Sequence[GroupFigure], words: Words) -> str:
    """the roof and the bonnet; two sides of one panel as the left and right front door"""
    names = [words.panel(f.level) for f in worst]
    said_of = dict.fromkeys(_the(_both_sides(name, names)) for name in names)
    return listed(list(said_of))


def _both_sides(name: str, names: Sequence[str]) -> str:
    """English only: elsewhere the sides are not always the first word."""
    rest = name.removeprefix("left ").removeprefix("right ")
    if {f"left {rest}", f"right {rest}"} <= set(names):
        return _("left and right %(panel)s") % {"panel": rest}
    return name


def _perhaps(found: ShopReview, words: Words) -> str:
    """No panel is surely worse than the whole."""
    top = next((f for f in found.table("panel") if f.p_worst3 is not None and not is_few(f)), None)
    many = len(found.table("panel")) > MOST_NAMED
    if top is None or not many or (top.p_worst3 or 0.0) < PERHAPS:
        return _("No panel stands out: what differs so far can be luck.")
    heading = _("Perhaps %(panel)s (%(p)s to be among the worst three); it is too early to be sure.")
    return heading % {"panel": _the(words.panel(top.level)), "p": said.chance(top.p_worst3 or 0.0)}


def effect_sentence(effect: Effect, words: Words) -> str:
    contrast = effect.contrast
    who = first_upper(subject(words, contrast.factor, contrast.level))
    more = _("%(who)s fail about %(ratio)s times as often.")
    fewer = _("%(who)s fail less often: about %(ratio)s times as often as others.")
    return (more if contrast.ratio >= 1 else fewer) % {"who": who, "ratio": said.about(contrast.ratio)}


def _panel_line(found: ShopReview, words: Words, figure: GroupFigure) -> Sentence:
    of = ("panel", figure.level)
    text = _("About %(ratio)s times as often as all panels together, somewhere between %(low)s and %(high)s.")
    interval = figure.shrunken_interval
    assert interval is not None
    ends = {"low": said.about(interval.low), "high": said.about(interval.high)}
    how = text % {"ratio": said.about(figure.shrunken or 0.0), **ends}
    counted = f"{first_upper(words.level(*of))}: {_counted(figure)}."
    return (Figure(counted, address(words.shop, found.selection, What.WATCHED, of)), Figure(how))


def _whole_line(found: ShopReview, words: Words) -> Sentence:
    url = address(words.shop, found.selection, What.WATCHED)
    return (Figure(f"{_counted(found.whole)}.", url),)


def _counted(figure: GroupFigure) -> str:
    text = ngettext(
        "%(failures)s failure in %(places)s watched places of %(vehicles)s vehicles",
        "%(failures)s failures in %(places)s watched places of %(vehicles)s vehicles",
        figure.failures,
    )
    return text % {
        "failures": said.count(figure.failures),
        "places": said.count(figure.edges),
        "vehicles": said.count(figure.vehicles),
    }


def _effect_line(found: ShopReview, words: Words, effect: Effect) -> Sentence:
    contrast = effect.contrast
    sides = (
        (contrast.level, contrast.failures, contrast.edges),
        (contrast.reference, contrast.reference_failures, contrast.reference_edges),
    )
    figures = []
    for level, failures, edges in sides:
        text = _("%(level)s: %(failures)s of %(edges)s failed.")
        what = {"failures": said.count(failures), "edges": said.count(edges)}
        url = address(words.shop, found.selection, What.WATCHED, (contrast.factor, level))
        figures.append(Figure(text % {"level": words.heading(contrast.factor, level), **what}, url))
    low, high = contrast.interval()
    text = _("Somewhere between %(low)s and %(high)s times, beside the same panel, film and installer.")
    return (*figures, Figure(text % {"low": said.about(low), "high": said.about(high)}))


def _nothing_seen(found: ShopReview, words: Words) -> Answer:
    total = len(found.asked.rows)
    text = ngettext("%(n)s place on record.", "%(n)s places on record.", total) % {"n": said.count(total)}
    url = address(words.shop, found.selection, What.RECORDED)
    why = _("No inspections yet: nobody has looked at them since they were finished.")
    return Answer(_("Nothing can be said yet."), ((Figure(text, url), Figure(why)),))


def _nothing_failed(found: ShopReview, words: Words) -> Answer:
    limits = [share for share in found.whole.shares if share is not None]
    why = _("None found failing is not none failing.")
    if limits:
        text = _("Up to %(high)s may fail by day %(day)s and not have been met yet.")
        why = text % {"day": limits[-1].day, "high": said.percent(limits[-1].high)}
    return Answer(_("Nothing has been found failing."), ((*_whole_line(found, words), Figure(why)),))


def _too_few(found: ShopReview, words: Words) -> Answer:
    why = _("So few can fall anywhere by chance: below are counts, without an order.")
    heading = _("Too few failures to say which panel fails most.")
    return Answer(heading, ((*_whole_line(found, words), Figure(why)),))


def listed(names: Sequence[str]) -> str:
    """a, b and c"""
    if len(names) < 2:
        return "".join(names)
    return _("%(first)s and %(last)s") % {"first": ", ".join(names[:-1]), "last": names[-1]}


def _the(name: str) -> str:
    return _("the %(thing)s") % {"thing": name}


def vehicles_of(vehicles: IntArray) -> int:
    return len(set(vehicles.tolist()))
