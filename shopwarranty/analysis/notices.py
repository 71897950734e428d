"""What could fool the reader of this review, with its own numbers."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from .effects import MOST_LEVELS
from .family import UNCOUNTED, comparable
from .patterns import Factor
from .questions import NOT_RECORDED_LEVEL, Question
from .results import Effect, Notice, NoticeKind, Review
from .verdicts import ATTENDANCE_LINE, FEWEST_FAILED_VEHICLES, Phrase

NOTEWORTHY = 1.1
"""A ratio has a direction worth a warning once it is a tenth away from 1."""


def notices_of(question: Question, review: Review) -> tuple[Notice, ...]:
    """In the order a reader needs them: what is missing, what limits everything, then line by line."""
    return (
        *_of_the_whole(question, review),
        *(n for f in question.factors for n in _of_factor(question, f)),
        *(n for e in review.effects for n in _of_effect(e)),
    )


def _notice(kind: NoticeKind, **values: str | int) -> Notice:
    return Notice(kind, tuple(values.items()))


def _of_the_whole(question: Question, review: Review) -> Iterator[Notice]:
    lives = question.lives
    if not review.failures:
        yield _notice(NoticeKind.NOTHING_FAILED)
    if review.never_seen:
        yield _notice(NoticeKind.NEVER_SEEN, count=review.never_seen, total=review.rows)
    late = int((lives.entry > 0).sum())
    if late:
        yield _notice(NoticeKind.LATE_ENTRY, count=late)
    failed = len(np.unique(lives.cluster[lives.found]))
    if 0 < failed < FEWEST_FAILED_VEHICLES:
        yield _notice(NoticeKind.FEW_CLUSTERS, count=failed)
    ratio = question.attendance_ratio
    if ratio is not None and ratio < ATTENDANCE_LINE:
        yield _notice(NoticeKind.CALLBACKS_STAY_AWAY, ratio=f"{ratio:.2f}")
    if review.effects:
        yield _notice(NoticeKind.MANY_QUESTIONS, count=len(review.effects))
    if review.effects and question.adjustment:
        yield _notice(NoticeKind.ADJUSTED_FOR, factors=", ".join(question.adjustment))


def _of_factor(question: Question, factor: Factor) -> Iterator[Notice]:
    if NOT_RECORDED_LEVEL in factor.levels:
        missing = int((factor.codes == factor.levels.index(NOT_RECORDED_LEVEL)).sum())
        yield _notice(NoticeKind.NOT_RECORDED, factor=factor.name, count=missing, total=len(factor.codes))
    if factor.name not in question.claimed or comparable(factor):
        return
    if len(factor.levels) > MOST_LEVELS:
        levels = len([level for level in factor.levels if level not in UNCOUNTED])
        yield _notice(NoticeKind.MANY_LEVELS, factor=factor.name, count=levels, most=MOST_LEVELS)
    else:
        yield _notice(NoticeKind.ONE_LEVEL, factor=factor.name)


def _of_effect(effect: Effect) -> Iterator[Notice]:
    contrast = effect.contrast
    names = {"factor": contrast.factor, "level": contrast.level}
    if effect.crude_ratio is not None and _turns(effect.crude_ratio, contrast.ratio):
        alone, beside = ("more", "fewer") if effect.crude_ratio > 1 else ("fewer", "more")
        yield _notice(NoticeKind.SIGN_TURNS, **names, alone=alone, beside=beside)
    if effect.verdict.claimed or effect.verdict.phrase is Phrase.TANGLED:
        for tangle in effect.tangled[:1]:
            kept = round(100 * tangle.kept)
            yield _notice(NoticeKind.TANGLED, **names, other=tangle.other, kept=kept)
    if effect.verdict.claimed and effect.few_witnesses:
        yield _notice(NoticeKind.FEW_WITNESSES, **names, least=FEWEST_FAILED_VEHICLES)
    if effect.depends_on_callbacks:
        yield _notice(NoticeKind.DEPENDS_ON_CALLBACKS, **names)


def _turns(alone: float, beside: float) -> bool:
    return min(max(alone, 1 / alone), max(beside, 1 / beside)) > NOTEWORTHY and (alone > 1) != (beside > 1)
