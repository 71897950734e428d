"""What a flat file's review says, as lines of a page and sheets of files; names as the file has them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopwarranty.analysis.results import Notice, NoticeKind
from shopwarranty.analysis.verdicts import Phrase

from . import said
from .caveats import DIRECTIONS, WORDS
from .charts import forest
from .effect_lines import MARKS, ORDER, PHRASES
from .exports import Cell, Sheet
from .monday import rough

FIRST_ROWS = 40


@dataclass(frozen=True, slots=True)
class FlatEffect:
    name: str
    against: str
    forest: SafeString
    ratio: str
    between: str
    own: str
    usual: str
    mark: str
    verdict: str
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FlatLine:
    level: str
    failures: str
    places: str
    rate: str
    rate_between: str
    ratio: str
    ratio_between: str
    worst3: str


@dataclass(frozen=True, slots=True)
class FlatTable:
    name: str
    lines: tuple[FlatLine, ...]
    left_out: int


def heading(review: Mapping[str, Any]) -> str:
    text = ngettext(
        "%(failures)s of %(rows)s places failed, on %(clusters)s vehicle.",
        "%(failures)s of %(rows)s places failed, on %(clusters)s vehicles.",
        review["clusters"],
    )
    return text % {key: said.count(review[key]) for key in ("failures", "rows", "clusters")}


def effects(found: Mapping[str, Any]) -> list[FlatEffect]:
    """The surest first."""
    whole = zip(found["review"]["effects"], found["phrases"], found["sides"], strict=True)
    order = sorted(whole, key=lambda one: (ORDER.index(Phrase[one[1][0]]), one[0]["p"]))
    return [_effect(*one) for one in order]


def _effect(effect: Mapping[str, Any], phrase: list[str], usual: list[int]) -> FlatEffect:
    kind = Phrase[phrase[0]]
    interval = (effect["low"], effect["high"])
    counted = _("%(failures)s of %(edges)s")
    sides = ([effect["failures"], effect["edges"]], usual)
    own, other = (counted % {"failures": said.count(f), "edges": said.count(e)} for f, e in sides)
    return FlatEffect(
        name=_("%(factor)s: %(level)s") % {"factor": effect["factor"], "level": effect["level"]},
        against=_("against %(usual)s") % {"usual": effect["reference"]},
        forest=forest(effect["hazard_ratio"], interval, MARKS[kind]),
        ratio=said.times(effect["hazard_ratio"]),
        between=said.between(interval),
        own=own,
        usual=other,
        mark=MARKS[kind],
        verdict=str(PHRASES[kind]) % {"other": phrase[1] or ""},
        notes=tuple(_notes(effect)),
    )


def _notes(effect: Mapping[str, Any]) -> Iterator[str]:
    if effect["more_edges_needed"]:
        places = {"n": rough(effect["more_edges_needed"])}
        yield _("Some %(n)s more watched places would tell a doubling.") % places


def tables(review: Mapping[str, Any]) -> list[FlatTable]:
    """The most pulled up first; only so many lines, all are in the files."""
    made = []
    for name, groups in review["groups"].items():
        order = sorted(groups, key=lambda g: (-(g["shrunken"] or 0.0), -g["failures"], g["level"]))
        lines = tuple(_line(group, says_worst=len(order) > 3) for group in order[:FIRST_ROWS])
        made.append(FlatTable(name, lines, len(order) - len(lines)))
    return made


def _line(group: Mapping[str, Any], *, says_worst: bool) -> FlatLine:
    shrunken = None if group["shrunken"] is None else (group["shrunken_low"], group["shrunken_high"])
    ends = {"low": said.rate(group["low"]), "high": said.rate(group["high"])}
    return FlatLine(
        level=group["level"],
        failures=said.count(group["failures"]) if group["edges"] else said.NOTHING,
        places=said.count(group["edges"]),
        rate=said.rate(group["rate"]),
        rate_between="" if group["low"] is None else _("%(low)s to %(high)s") % ends,
        ratio=said.NOTHING if group["shrunken"] is None else said.times(group["shrunken"]),
        ratio_between="" if shrunken is None else said.between(shrunken),
        worst3=said.chance(group["p_worst3"]) if says_worst and group["p_worst3"] is not None else "–",
    )


def curve(review: Mapping[str, Any]) -> list[tuple[int, str, str]]:
    text = _("%(low)s to %(high)s")
    return [
        (
            share["day"],
            said.percent(share["estimate"]),
            text % {"low": said.percent(share["low"]), "high": said.percent(share["high"])},
        )
        for share in review["cumulative"]
    ]


def warnings(found: Mapping[str, Any]) -> list[str]:
    notices = (Notice(NoticeKind[kind], tuple(map(tuple, values))) for kind, values in found["notices"])
    return [_worded(notice) for notice in notices]


def _worded(notice: Notice) -> str:
    """In the reader's language where the page has the sentence; names as the file has them."""
    if notice.kind not in WORDS:
        return notice.words
    values: dict[str, object] = dict(notice.values)
    for name in ("alone", "beside"):
        if name in values:
            values[name] = DIRECTIONS[str(values[name])]
    return str(WORDS[notice.kind]) % values


def figures_sheet(review: Mapping[str, Any]) -> Sheet:
    rows: list[list[Cell]] = []
    head = ["factor", "level", "edges", "failures", "edge_days", "rate", "low", "high"]
    head += ["shrunken", "shrunken_low", "shrunken_high", "p_worst3"]
    for name, groups in review["groups"].items():
        rows += [[name, *(group[key] for key in head[1:])] for group in groups]
    return Sheet("figures", head, rows)


def comparisons_sheet(review: Mapping[str, Any]) -> Sheet:
    found = review["effects"]
    head = list(found[0]) if found else ["factor", "level", "reference"]
    return Sheet("comparisons", head, [list(one.values()) for one in found])
