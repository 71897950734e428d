"""The family of claims: every contrast fitted, corrected together, and put into words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from .aliasing import Information, Tangle, beside, information_of, tangles
from .arrays import IntArray
from .bands import Bands
from .effects import MOST_LEVELS, Contrast, Ground, contrasts, joint_p, pooled_rare_levels, prepare
from .exposure import Lives
from .multiplicity import benjamini_hochberg, holm
from .patterns import Factor, combinations
from .questions import NOT_RECORDED_LEVEL, Question
from .results import Effect
from .sample_size import Today, more_edges
from .stratified import EarlyLooks, crude_ratio, early_looks, mantel_haenszel, tables_by_level
from .verdicts import ATTENDANCE_LINE, CLAIM_AT, few_witnesses, verdict

UNCOUNTED = frozenset({NOT_RECORDED_LEVEL})


@dataclass(frozen=True, slots=True, eq=False)
class _Line:
    """A contrast on its way to a verdict."""

    contrast: Contrast
    crude: float | None
    stratified: float | None
    tangled: tuple[Tangle, ...]
    joint_p: float | None

    @property
    def worst(self) -> Tangle | None:
        """The tangle that forbids telling apart, if any."""
        return next((t for t in self.tangled if t.cannot_tell), None)


def effects_of(question: Question, bands: Bands) -> tuple[Effect, ...]:
    """All claimed contrasts of one family, with verdicts; the second analysis beside when there is one."""
    if not question.lives.found.any():
        return ()
    main = _family(question, question.lives, bands)
    if question.everything is None or not question.everything.found.any():
        return main
    second = {_key(e): e.verdict for e in _family(question, question.everything, bands)}
    return tuple(replace(e, with_callbacks=second.get(_key(e))) for e in main)


def _key(effect: Effect) -> tuple[str, str]:
    return effect.contrast.factor, effect.contrast.level


def comparable(factor: Factor) -> bool:
    """Two recorded levels at least, and not too many to compare."""
    counted = [level for level in factor.levels if level not in UNCOUNTED]
    return len(counted) >= 2 and len(factor.levels) <= MOST_LEVELS


def _family(question: Question, lives: Lives, bands: Bands) -> tuple[Effect, ...]:
    rows = np.flatnonzero(lives.watched)
    kept = {f.name: f if len(rows) == len(lives) else f.only(rows) for f in question.factors}
    adjustment = [pooled_rare_levels(kept[name]) for name in question.adjustment]
    ground = prepare(lives.only(rows), adjustment, bands)
    pool = {**{n: f for n, f in kept.items() if comparable(f)}, **{f.name: f for f in adjustment}}
    asked = [kept[name] for name in question.claimed if comparable(kept[name])]
    information = information_of(ground, list(pool.values()))
    left = beside(information, question.adjustment)
    early = early_looks(ground.lives, bands.first_check)
    lines = [
        line
        for factor in asked
        for line in _lines(
            ground, information, left, factor, list(pool.values()), early, question.system_recorded
        )
    ]
    return _worded(question, lines, bands.first_check)


def _lines(
    ground: Ground,
    information: Information,
    left: Information,
    factor: Factor,
    pool: Sequence[Factor],
    early: EarlyLooks,
    system_recorded: frozenset[str],
) -> list[_Line]:
    stratum, strata = _strata(ground, factor)
    tables = tables_by_level(early, factor.codes, len(factor.levels), stratum, strata)
    others = [f for f in pool if f.name != factor.name]
    lines = []
    for contrast in contrasts(ground, factor, UNCOUNTED):
        level = factor.levels.index(contrast.level)
        pair = tables[:, [level, factor.reference], :]
        tangled = tangles(ground, information, left, factor, level, others, system_recorded)
        near = tuple(t for t in tangled if t.moves_with)
        worst = next((t for t in near if t.cannot_tell), None)
        both = None if worst is None else [factor, *(f for f in others if f.name == worst.other)]
        joint = None if both is None else joint_p(ground, both)
        lines.append(_Line(contrast, crude_ratio(pair), mantel_haenszel(pair).ratio, near, joint))
    return lines


def _strata(ground: Ground, factor: Factor) -> tuple[IntArray, int]:
    rest = [f for f in ground.adjustment if f.name != factor.name]
    if len(rest) == len(ground.adjustment):
        return ground.base.pattern, len(ground.base.packed.design)
    pattern, codes = combinations(rest, len(ground.lives))
    return pattern, len(codes[0]) if rest else 1


def _worded(question: Question, lines: Sequence[_Line], early_day: int) -> tuple[Effect, ...]:
    """Joint tests of tangled pairs are questions of the family too, so they count in its correction."""
    joint = [line.joint_p for line in lines if line.joint_p is not None]
    p = np.array([line.contrast.p for line in lines] + joint)
    q, careful = benjamini_hochberg(p), holm(p)
    away = question.attendance_ratio is not None and question.attendance_ratio < ATTENDANCE_LINE
    effects = []
    for i, line in enumerate(lines):
        contrast = line.contrast
        informative = away and contrast.factor in question.seen_by_owner
        said = verdict(contrast, float(q[i]), line.worst, informative)
        more = None if said.settled else more_edges(_today(contrast), len(lines), CLAIM_AT)
        effects.append(
            Effect(
                contrast=contrast,
                q=float(q[i]),
                holm=float(careful[i]),
                crude_ratio=line.crude,
                stratified_ratio=line.stratified,
                early_day=early_day,
                verdict=said,
                tangled=line.tangled,
                joint_p=line.joint_p,
                more_edges=more,
                few_witnesses=few_witnesses(contrast),
            )
        )
    return tuple(effects)


def _today(contrast: Contrast) -> Today:
    return Today(
        se=contrast.se,
        df=contrast.df,
        ratio=contrast.ratio,
        failures=contrast.failures,
        reference_failures=contrast.reference_failures,
        edges=contrast.edges + contrast.reference_edges,
    )
