"""What goes with failures: each technique beside its usual way, in one of five fixed phrases."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from django.utils.functional import Promise
from django.utils.safestring import SafeString
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from shopwarranty.analysis.notices import NOTEWORTHY
from shopwarranty.analysis.results import Effect
from shopwarranty.analysis.verdicts import Phrase, Reason, Verdict
from shopwarranty.web.trade_names import first_upper

from . import said
from .charts import forest
from .counted import What, address
from .monday import rough
from .reviewing import ShopReview
from .stated_only import StatedOnly
from .words import Words

MARKS: Final = {
    Phrase.MORE: "more",
    Phrase.FEWER: "fewer",
    Phrase.NO_DIFFERENCE: "no-difference",
    Phrase.NOT_YET: "cannot-tell",
    Phrase.TANGLED: "cannot-separate",
}
ORDER: Final = (Phrase.MORE, Phrase.FEWER, Phrase.TANGLED, Phrase.NO_DIFFERENCE, Phrase.NOT_YET)
PHRASES: Final[dict[Phrase, str | Promise]] = {
    Phrase.MORE: _("Goes with more failures"),
    Phrase.FEWER: _("Goes with fewer failures"),
    Phrase.NO_DIFFERENCE: _("No clear difference"),
    Phrase.NOT_YET: _("Cannot tell yet"),
    Phrase.TANGLED: _("Cannot be told apart from %(other)s"),
}
REASONS: Final[dict[Reason, str | Promise]] = {
    Reason.TOO_FEW_EXPECTED: _("Fewer than five failures to be expected on one side."),
    Reason.CALLBACKS_STAY_AWAY: _("Vehicles that came back miss their planned checks."),
}


@dataclass(frozen=True, slots=True)
class Side:
    """so many failed of so many, and where they are listed"""

    text: str
    url: str


@dataclass(frozen=True, slots=True)
class EffectLine:
    name: str
    against: str
    forest: SafeString
    ratio: str
    between: str
    own: Side
    usual: Side
    mark: str
    verdict: str
    notes: tuple[str, ...]


def effect_lines(found: ShopReview, words: Words) -> list[EffectLine]:
    """The surest first. On a page that explores there are no verdicts, only estimates."""
    exploring = found.selection.exploring
    return [_line(found, words, e, exploring) for e in sorted(found.review.effects, key=_rank)]


def verdict_words(effect: Effect, words: Words) -> str:
    return _phrase(effect.verdict, words)


def _phrase(verdict: Verdict, words: Words) -> str:
    other = words.factor(verdict.other) if verdict.other else ""
    return str(PHRASES[verdict.phrase]) % {"other": other}


def lower_first(text: str) -> str:
    return text[:1].lower() + text[1:]


def _rank(effect: Effect) -> tuple[int, float]:
    return ORDER.index(effect.verdict.phrase), effect.contrast.p


def _line(found: ShopReview, words: Words, effect: Effect, exploring: bool) -> EffectLine:
    contrast, interval = effect.contrast, effect.contrast.interval()
    stated = found.stated.get((contrast.factor, contrast.level))
    mark = "cannot-tell" if exploring else MARKS[effect.verdict.phrase]
    return EffectLine(
        name=first_upper(words.with_level(contrast.factor, contrast.level)),
        against=gettext("against %(usual)s") % {"usual": words.level(contrast.factor, contrast.reference)},
        forest=forest(contrast.ratio, interval, "plain" if exploring else mark),
        ratio=said.times(contrast.ratio),
        between=said.between(interval),
        own=_side(found, words, contrast.factor, contrast.level, contrast.failures, contrast.edges),
        usual=_side(
            found,
            words,
            contrast.factor,
            contrast.reference,
            contrast.reference_failures,
            contrast.reference_edges,
        ),
        mark=mark,
        verdict="" if exploring else verdict_words(effect, words),
        notes=tuple(
            note
            for note in (_waits(found, effect), *_notes(effect, words, exploring), _on_stated(stated))
            if note
        ),
    )


def _waits(found: ShopReview, effect: Effect) -> str:
    """Only the monthly review claims: whoever looks every day would claim something by luck."""
    contrast = effect.contrast
    if (contrast.factor, contrast.level, contrast.reference) not in found.waiting:
        return ""
    return gettext("Holds today; said as a verdict once the next monthly review finds it too.")


def _side(found: ShopReview, words: Words, factor: str, level: str, failures: int, edges: int) -> Side:
    text = gettext("%(failures)s of %(edges)s")
    return Side(
        text % {"failures": said.count(failures), "edges": said.count(edges)},
        address(words.shop, found.selection, What.WATCHED, (factor, level)),
    )


def _notes(effect: Effect, words: Words, exploring: bool) -> Iterator[str]:
    yield _turned(effect)
    if not exploring:
        yield from _beside_verdict(effect, words)


def _turned(effect: Effect) -> str:
    """Where the three ways of counting do not point the same way, all three are said."""
    beside = effect.contrast.ratio
    ways = [one for one in (effect.crude_ratio, effect.stratified_ratio) if one is not None]
    if not any(sign_turns(one, beside) for one in ways):
        return ""
    text = gettext(
        "The sign turns: failed by day %(day)s alone %(alone)s, among like places %(within)s; beside "
        "everything %(beside)s."
    )
    alone, within = (
        said.NOTHING if one is None else said.times(one)
        for one in (effect.crude_ratio, effect.stratified_ratio)
    )
    return text % {"alone": alone, "within": within, "day": effect.early_day, "beside": said.times(beside)}


def sign_turns(alone: float, beside: float) -> bool:
    """Both ratios a tenth or more away from 1, on different sides of it."""
    weaker = min(max(alone, 1 / alone), max(beside, 1 / beside))
    return weaker > NOTEWORTHY and (alone > 1) != (beside > 1)


def _on_stated(stated: StatedOnly | None) -> str:
    """Where a comparison rests on values by method, the same without them."""
    if stated is None:
        return ""
    text = gettext("%(share)s known by method alone; without those %(ratio)s (%(between)s).")
    between = said.between((stated.low, stated.high))
    return text % {
        "share": said.percent(stated.by_method, 0),
        "ratio": said.times(stated.ratio),
        "between": between,
    }


def _beside_verdict(effect: Effect, words: Words) -> Iterator[str]:
    if effect.verdict.reason in REASONS:
        yield str(REASONS[effect.verdict.reason])
    moved = effect.tangled[0] if effect.tangled and effect.verdict.claimed else None
    if moved is not None:
        yield gettext("Moves with %(other)s.") % {"other": words.factor(moved.other)}
    if effect.depends_on_callbacks and effect.with_callbacks is not None:
        text = gettext("Depends on people who came back: with every visit counted on its day, %(verdict)s.")
        yield text % {"verdict": lower_first(_phrase(effect.with_callbacks, words))}
    if effect.verdict.claimed and effect.few_witnesses:
        yield gettext("Few vehicles with a failure on one side.")
    if effect.more_edges:
        places = {"n": rough(effect.more_edges)}
        yield gettext("Some %(n)s more watched places would tell a doubling.") % places
