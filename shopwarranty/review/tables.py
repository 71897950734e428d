"""The tables of the page: a line for each panel, place, film, lot, with what each figure was counted from."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopwarranty.analysis.groups import GroupFigure
from shopwarranty.analysis.questions import NOT_RECORDED_LEVEL
from shopwarranty.web.trade_names import first_upper

from . import said
from .counted import What, address
from .reviewing import SHARE_DAYS, TABLES, ShopReview
from .selection import Part
from .words import Words

FEWEST_PLACES, FEWEST_VEHICLES = 10, 5
"""Below either, a group is too small for a rate to be shown as more than its counts; a judgement."""

FIRST_ROWS = {
    "panel": 40,
    "place_kind": 10,
    "spot": 12,
    "post_heated": 10,
    "film": 12,
    "lot": 12,
    "installer": 40,
}
ALWAYS = ("panel", "installer")
"""A table of one line compares nothing, but these are looked for."""

TITLES: dict[str, str | Promise] = {
    "panel": gettext_lazy("By panel"),
    "place_kind": gettext_lazy("By kind of place"),
    "spot": gettext_lazy("By panel and place"),
    "film": gettext_lazy("By film"),
    "lot": gettext_lazy("By lot"),
    "post_heated": gettext_lazy("By post-heat"),
    "installer": gettext_lazy("By who laid it"),
}
BESIDE: dict[str, str | Promise] = {
    "panel": gettext_lazy("Each panel against what its own mix of edges, recesses and seams would show."),
    "place_kind": gettext_lazy("Each kind against all places together."),
    "spot": gettext_lazy("Each place against all places together."),
    "film": gettext_lazy("Each film against what the same panels and places would show at the same ages."),
    "lot": gettext_lazy("Each lot against what the same panels and places would show at the same ages."),
    "post_heated": gettext_lazy("Against what the same panels and places would show at the same ages."),
    "installer": gettext_lazy(
        "Against what the same panels, places and films would show at the same ages. "
        "Who got the hard jobs is not in these figures: talk before you conclude."
    ),
}


@dataclass(frozen=True, slots=True)
class ShareCell:
    day: int
    text: str
    between: str


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a table, every figure as it is read; `few`: too few to say, counts only."""

    level: str
    name: str
    recorded: str
    recorded_url: str
    watched: str
    watched_url: str
    failures: str
    failures_url: str
    vehicles: str
    years: str
    rate: str
    rate_between: str
    shares: tuple[ShareCell, ...]
    ratio: str
    ratio_between: str
    worst3: str
    few: bool
    note: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """`more`: lines beyond the first, behind a disclosure. `ranks`: an order is worth showing at all."""

    name: str
    title: str
    beside: str
    head: str
    lines: tuple[Line, ...]
    more: tuple[Line, ...]
    ranks: bool
    says_worst: bool
    days: tuple[int, ...] = SHARE_DAYS


def is_few(figure: GroupFigure) -> bool:
    return figure.edges < FEWEST_PLACES or figure.vehicles < FEWEST_VEHICLES


def tables(found: ShopReview, words: Words, installers: frozenset[str]) -> list[Table]:
    """Those that have a line; the installers' only with the lines this reader may see."""
    made = []
    for name in TABLES:
        if name == "post_heated" and found.selection.part is Part.SURFACE:
            continue
        figures = shown(found, name, installers)
        if len(figures) > 1 or (figures and name in ALWAYS):
            made.append(_table(found, words, name, figures))
    return made


def shown(found: ShopReview, name: str, installers: frozenset[str]) -> tuple[GroupFigure, ...]:
    figures = found.table(name)
    if name == "installer":
        figures = tuple(f for f in figures if f.level in installers)
    return tuple(sorted(figures, key=_too_small if found.ranked else _by_count))


def _too_small(figure: GroupFigure) -> tuple[bool, bool]:
    """Groups too small to say stand below the others, what is not recorded last."""
    return figure.level == NOT_RECORDED_LEVEL, is_few(figure)


def _by_count(figure: GroupFigure) -> tuple[bool, int, str]:
    return figure.level == NOT_RECORDED_LEVEL, -figure.failures, figure.level


def _table(found: ShopReview, words: Words, name: str, figures: Sequence[GroupFigure]) -> Table:
    lines = tuple(_line(found, words, name, figure) for figure in figures)
    return Table(
        name=name,
        title=str(TITLES[name]),
        beside=str(BESIDE[name]),
        head=first_upper(words.factor(name)),
        lines=lines[: FIRST_ROWS[name]],
        more=lines[FIRST_ROWS[name] :],
        ranks=found.ranked,
        says_worst=found.ranked and len([f for f in figures if f.p_worst3 is not None]) > 3,
    )


def _line(found: ShopReview, words: Words, name: str, figure: GroupFigure) -> Line:
    of = (name, figure.level)
    shop, selection = words.shop, found.selection
    few = is_few(figure)
    tells = found.ranked and not few and figure.shrunken is not None
    return Line(
        level=figure.level,
        name=first_upper(words.level(*of)),
        recorded=said.count(figure.edges + figure.never_seen),
        recorded_url=address(shop, selection, What.RECORDED, of),
        watched=said.count(figure.edges),
        watched_url=address(shop, selection, What.WATCHED, of),
        failures=said.count(figure.failures) if figure.edges else said.NOTHING,
        failures_url=address(shop, selection, What.FAILED, of) if figure.failures else "",
        vehicles=said.count(figure.vehicles),
        years=said.years(figure.edge_days),
        rate=said.NOTHING if few else said.rate(figure.rate),
        rate_between="" if few or figure.rate_interval is None else _rates(figure),
        shares=tuple(_shares(figure, few)),
        ratio=said.times(figure.shrunken) if tells and figure.shrunken is not None else "",
        ratio_between=said.between(figure.shrunken_interval) if tells else "",
        worst3=said.chance(figure.p_worst3) if tells and figure.p_worst3 is not None else "",
        few=few,
        note=_note(found, words, name, figure),
    )


def _rates(figure: GroupFigure) -> str:
    interval = figure.rate_interval
    assert interval is not None
    return _("%(low)s to %(high)s") % {"low": said.rate(interval.low), "high": said.rate(interval.high)}


def _shares(figure: GroupFigure, few: bool) -> Iterator[ShareCell]:
    for day, share in zip(SHARE_DAYS, figure.shares, strict=True):
        said_of = None if few else share
        yield ShareCell(day, said.share(said_of), said.share_between(said_of))


def _note(found: ShopReview, words: Words, name: str, figure: GroupFigure) -> str:
    if not figure.edges:
        return _("No inspections yet")
    if name == "lot":
        return _lot_note(found, figure)
    if name == "installer" and figure.expected is not None:
        mix = _mix(found, words, figure.level)
        expected = {"n": said.fixed(figure.expected, 1), "mix": mix}
        return _("%(n)s failures expected of this mix: %(mix)s") % expected
    return ""


def _lot_note(found: ShopReview, figure: GroupFigure) -> str:
    lot = found.lots.get(figure.level)
    if lot is None or not lot.vehicles:
        return ""
    power = said.chance(lot.would_notice_threefold)
    if found.selection.exploring:
        text = _("%(n)s failures expected of the same mix")
        return text % {"n": said.fixed(lot.expected, 1)} if lot.judged else ""
    if lot.alert:
        expected = said.fixed(lot.expected, 1)
        return _("More than chance: %(n)s expected. Look at this lot first.") % {"n": expected}
    return _("A lot three times as bad would have been noticed with %(p)s.") % {"p": power}


def _mix(found: ShopReview, words: Words, level: str) -> str:
    """What sort of work it was: shares of panels among the watched places, the three most usual."""
    asked = found.asked
    panels = asked.factor("panel_kind")
    own = asked.having("installer", level) & asked.question.lives.watched
    if panels is None or not own.any():
        return ""
    counts = np.bincount(panels.codes[own], minlength=len(panels.levels))
    top = np.argsort(-counts, kind="stable")[:3]
    total = int(counts.sum())
    return ", ".join(f"{_kind(words, panels.levels[k])} {said.percent(counts[k] / total, 0)}" for k in top)


def _kind(words: Words, kind: str) -> str:
    """A panel's name without its side: of the left one, since both are called alike."""
    plain = words.panel(kind)
    if plain != kind:
        return plain
    return words.panel(f"left-{kind}").replace("left ", "", 1)
