"""How sure this is, and what could fool us: said with this shop's own numbers."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from shopwarranty.analysis.exposure import NEVER
from shopwarranty.analysis.results import Notice, NoticeKind
from shopwarranty.web.trade_names import first_upper

from . import said
from .counted import Counted, What, address, without_film
from .headline import Figure, listed
from .lives import LifeTable
from .reviewing import ShopReview
from .selection import Part
from .words import Words

WORDS: Final[dict[NoticeKind, str | Promise]] = {
    NoticeKind.LATE_ENTRY: _(
        "%(count)s places came under record late; the figures allow for it, the curve has no steps."
    ),
    NoticeKind.FEW_CLUSTERS: _(
        "Only %(count)s vehicles with a failure: every interval here is rough below 20."
    ),
    NoticeKind.MANY_LEVELS: _("%(factor)s has %(count)s levels: it is listed, not compared."),
    NoticeKind.SIGN_TURNS: _(
        "%(factor)s, %(level)s: taken alone it goes with %(alone)s failures, beside the others with "
        "%(beside)s."
    ),
    NoticeKind.TANGLED: _(
        "%(factor)s, %(level)s moved with %(other)s: %(kept)s%% of what it could tell is left beside it."
    ),
    NoticeKind.DEPENDS_ON_CALLBACKS: _("%(factor)s, %(level)s: the verdict depends on people who came back."),
    NoticeKind.CALLBACKS_STAY_AWAY: _(
        "Vehicles that came back attend their planned checks %(ratio)s times as often as others: rates are "
        "too low, and what an owner can see is not judged."
    ),
    NoticeKind.MANY_QUESTIONS: _(
        "%(count)s comparisons were looked at; about one in twenty claimed verdicts may be wrong."
    ),
    NoticeKind.ADJUSTED_FOR: _("Every comparison is held beside: %(factors)s."),
}
DIRECTIONS: Final = {"more": _("more"), "fewer": _("fewer")}


def caveats(found: ShopReview, table: LifeTable, words: Words) -> list[Figure]:
    """Sentences, the ones that count something with the places they count."""
    said_here = (
        *_counted(found, table, words),
        *(Figure(text) for text in _fixed(found)),
        *(Figure(_worded(n, words)) for n in found.review.notices if _tells(n, found)),
    )
    return [figure for figure in said_here if figure.text]


def _counted(found: ShopReview, table: LifeTable, words: Words) -> Iterator[Figure]:
    def url(what: What) -> str:
        return address(words.shop, found.selection, what)

    def number(what: What) -> int:
        return int(Counted(what).mask(table, found.asked).sum())

    whole = found.whole
    counted = {
        "places": said.count(whole.edges),
        "vehicles": said.count(whole.vehicles),
        "failures": said.count(whole.failures),
        "years": said.years(whole.edge_days),
    }
    text = gettext(
        "Counted: %(places)s places of %(vehicles)s vehicles, %(years)s years, %(failures)s failures."
    )
    yield Figure(text % counted, url(What.WATCHED))
    unseen = number(What.UNSEEN)
    if unseen:
        text = gettext(
            "Nobody has looked at %(n)s places since they were finished; they are in no denominator."
        )
        yield Figure(text % {"n": said.count(unseen)}, url(What.UNSEEN))
    between = number(What.BETWEEN)
    text = gettext(
        "Only planned checks count here. %(n)s reported in between are used at the next planned check."
    )
    if between:
        yield Figure(text % {"n": said.count(between)}, url(What.BETWEEN))
        yield Figure(_with_callbacks(found))
    else:
        yield Figure(gettext("Only planned checks count here; nothing was reported in between."))
    no_film = len(without_film(table))
    if no_film:
        text = gettext("No film is recorded on %(n)s places; they are in no family's figures.")
        yield Figure(text % {"n": said.count(no_film)}, url(What.NO_FILM))
    damaged = number(What.DAMAGED)
    if damaged:
        text = gettext("Damage from outside, at %(n)s places, ends the watch and is not a failure.")
        yield Figure(text % {"n": said.count(damaged)}, url(What.DAMAGED))


def _with_callbacks(found: ShopReview) -> str:
    """The same counted as every visit saw it, for comparison."""
    everything = found.asked.question.everything
    if everything is None:
        return ""
    failures = int((everything.failed != NEVER).sum())
    text = gettext("Counted as every visit saw it, there are %(n)s failures instead of %(m)s.")
    return text % {"n": said.count(failures), "m": said.count(found.review.failures)}


def _fixed(found: ShopReview) -> Iterator[str]:
    yield gettext(
        "Failures are seen at checks: the true day lies between two looks, so shares hold at check ages."
    )
    yield gettext(
        "All places of one vehicle count as one witness, so intervals are wider than the counts suggest."
    )
    if found.selection.part is Part.ENDS:
        yield gettext("What goes with failures need not cause them: hard edges may get extra care.")
    if found.attendance_ratio is not None and found.attendance_ratio >= 0.8:
        text = gettext("Vehicles that came back attend planned checks %(ratio)s times as often as others.")
        yield text % {"ratio": said.times(found.attendance_ratio)}


def _tells(notice: Notice, found: ShopReview) -> bool:
    about_verdicts = notice.kind in (NoticeKind.MANY_QUESTIONS, NoticeKind.DEPENDS_ON_CALLBACKS)
    return notice.kind in WORDS and not (about_verdicts and found.selection.exploring)


def _worded(notice: Notice, words: Words) -> str:
    values: dict[str, object] = dict(notice.values)
    if "level" in values:
        values["level"] = words.level(str(values["factor"]), str(values["level"]))
    for name in ("factor", "other"):
        if name in values:
            values[name] = words.factor(str(values[name]))
    for name in ("alone", "beside"):
        if name in values:
            values[name] = DIRECTIONS[str(values[name])]
    if "factors" in values:
        named = str(values["factors"]).split(", ")
        values["factors"] = listed(list(dict.fromkeys(words.factor(name) for name in named)))
    return first_upper(str(WORDS[notice.kind]) % values)


def record_gaps(found: ShopReview, words: Words) -> list[Figure]:
    """What the record is silent about: counted and shown, never read as no."""
    return list(_record_gaps(found, words))


def _record_gaps(found: ShopReview, words: Words) -> Iterator[Figure]:
    total = {"all": said.count(found.review.rows)}
    for notice in found.review.notices:
        values = dict(notice.values)
        if notice.kind is NoticeKind.NOT_RECORDED and str(values["factor"]) not in ("panel_kind", "spot"):
            name = str(values["factor"])
            text = gettext("%(factor)s: not recorded for %(n)s of %(all)s places.")
            what = {"factor": first_upper(words.factor(name)), "n": said.count(int(values["count"])), **total}
            url = address(words.shop, found.selection, What.RECORDED, (name, "not recorded"))
            yield Figure(text % what, url)
    same = [n.values[0][1] for n in found.review.notices if n.kind is NoticeKind.ONE_LEVEL]
    if same:
        named = ", ".join(words.factor(str(name)) for name in same)
        yield Figure(gettext("The same everywhere, so nothing to compare: %(x)s.") % {"x": named})
    if found.asked.unrecorded:
        named = ", ".join(dict.fromkeys(words.factor(name) for name in found.asked.unrecorded))
        yield Figure(gettext("Recorded for no place: %(x)s.") % {"x": named})
