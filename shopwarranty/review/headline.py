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


@dataclass(frozen=True, slots=True)
class Answer:
    """`heading` is the answer, `sure` how sure it is, `counted` what it was counted from."""

    heading: str
    sure: str
    counted: tuple[Figure, ...]


def answer(found: ShopReview, words: Words) -> Answer:
    if not found.whole.edges:
        return _nothing_seen(found, words)
    if not found.review.failures:
        return _nothing_failed(found, words)
    if not found.ranked:
        return _too_few(found, words)
    worst = worst_panels(found)
    heading, sure = _named(worst, words) if worst else _perhaps(found, words)
    effect = surest(found)
    if effect is not None:
        heading = f"{heading} {effect_sentence(effect, words)}"
        sure = f"{sure} {_effect_sure(effect, words)}"
    return Answer(heading, sure, (*_counts(found, words, worst), *_effect_counts(found, words, effect)))


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


def _named(worst: Sequence[GroupFigure], words: Words) -> tuple[str, str]:
    names = [_the(words.panel(f.level)) for f in worst]
    heading = ngettext("%(panels)s fails most.", "%(panels)s fail most.", len(worst))
    sure = [_ratio_sentence(f, words, alone=len(worst) == 1) for f in worst]
    return first_upper(heading % {"panels": listed(names)}), " ".join(sure)


def _ratio_sentence(figure: GroupFigure, words: Words, *, alone: bool) -> str:
    ratio, between = said.times(figure.shrunken or 0.0), said.between(figure.shrunken_interval)
    if alone:
        return _("About %(ratio)s times as often as all panels together, somewhere between %(between)s.") % {
            "ratio": ratio,
            "between": between,
        }
    name = first_upper(words.panel(figure.level))
    text = _("%(panel)s: about %(ratio)s times as often as all together (%(between)s).")
    return text % {"panel": name, "ratio": ratio, "between": between}


def _perhaps(found: ShopReview, words: Words) -> tuple[str, str]:
    top = next((f for f in found.table("panel") if f.p_worst3 is not None and not is_few(f)), None)
    if top is not None and (top.p_worst3 or 0.0) >= PERHAPS and len(found.table("panel")) > MOST_NAMED:
        sure = _("It is among the three worst with %(p)s, but its lead could still be luck.")
        heading = _("Perhaps %(panel)s; it is too early to be sure.") % {
            "panel": _the(words.panel(top.level))
        }
        return heading, sure % {"p": said.chance(top.p_worst3 or 0.0)}
    return _("No panel stands out."), _("What differs between panels so far can be luck.")


def effect_sentence(effect: Effect, words: Words) -> str:
    contrast = effect.contrast
    who = first_upper(subject(words, contrast.factor, contrast.level))
    if contrast.ratio >= 1:
        text = _("%(who)s fail about %(ratio)s times as often.")
        return text % {"who": who, "ratio": said.times(contrast.ratio)}
    return _("%(who)s fail less often, about %(ratio)s times.") % {
        "who": who,
        "ratio": said.times(contrast.ratio),
    }


def _effect_sure(effect: Effect, words: Words) -> str:
    low_high = said.between(effect.contrast.interval())
    usual = words.with_level(effect.contrast.factor, effect.contrast.reference)
    text = _("Against \u201c%(usual)s\u201d, somewhere between %(between)s times.")
    return text % {"usual": usual, "between": low_high}


def _counts(found: ShopReview, words: Words, worst: Sequence[GroupFigure]) -> list[Figure]:
    rows = worst or [found.whole]
    return [_count(found, words, f, (("panel", f.level),) if worst else ()) for f in rows]


def _count(
    found: ShopReview, words: Words, figure: GroupFigure, levels: tuple[tuple[str, str], ...]
) -> Figure:
    what = {
        "failures": said.count(figure.failures),
        "places": said.count(figure.edges),
        "vehicles": said.count(figure.vehicles),
    }
    text = ngettext(
        "%(failures)s failure in %(places)s watched places of %(vehicles)s vehicles",
        "%(failures)s failures in %(places)s watched places of %(vehicles)s vehicles",
        figure.failures,
    )
    if levels and figure is not found.whole:
        text = f"{first_upper(words.level(*levels[0]))}: {text}"
    return Figure(text % what, address(words.shop, found.selection, What.WATCHED, *levels))


def _effect_counts(found: ShopReview, words: Words, effect: Effect | None) -> list[Figure]:
    if effect is None:
        return []
    contrast = effect.contrast
    text = _("%(level)s: %(failures)s of %(edges)s failed")
    return [
        Figure(
            text
            % {
                "level": words.heading(contrast.factor, level),
                "failures": said.count(failures),
                "edges": said.count(edges),
            },
            address(words.shop, found.selection, What.WATCHED, (contrast.factor, level)),
        )
        for level, failures, edges in (
            (contrast.level, contrast.failures, contrast.edges),
            (contrast.reference, contrast.reference_failures, contrast.reference_edges),
        )
    ]


def _nothing_seen(found: ShopReview, words: Words) -> Answer:
    total = len(found.asked.rows)
    sure = _("No inspections yet: nobody has looked at these places since they were finished.")
    text = ngettext("%(n)s place on record", "%(n)s places on record", total) % {"n": said.count(total)}
    url = address(words.shop, found.selection, What.RECORDED)
    return Answer(_("Nothing can be said yet."), sure, (Figure(text, url),))


def _nothing_failed(found: ShopReview, words: Words) -> Answer:
    limits = [share for share in found.whole.shares if share is not None]
    sure = _("None found failing is not none failing.")
    if limits:
        text = _("By day %(day)s at most %(high)s can have failed, and be missed by luck.")
        sure = text % {"day": limits[-1].day, "high": said.percent(limits[-1].high)}
    return Answer(_("Nothing has been found failing."), sure, tuple(_counts(found, words, ())))


def _too_few(found: ShopReview, words: Words) -> Answer:
    sure = _("So few failures can fall anywhere by chance; here they are, without an order.")
    heading = _("Too few failures to say which panel fails most.")
    return Answer(heading, sure, tuple(_counts(found, words, ())))


def listed(names: Sequence[str]) -> str:
    """a, b and c"""
    if len(names) < 2:
        return "".join(names)
    return _("%(first)s and %(last)s") % {"first": ", ".join(names[:-1]), "last": names[-1]}


def _the(name: str) -> str:
    return _("the %(thing)s") % {"thing": name}


def vehicles_of(vehicles: IntArray) -> int:
    return len(set(vehicles.tolist()))
