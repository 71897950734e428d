"""Trials of arms that are alike, looked at every week: how often one is told that they differ."""

from __future__ import annotations

import numpy as np

from shopwarranty.analysis.proportions import clopper_pearson
from shopwarranty.analysis.trial_draw import other_comes_first
from shopwarranty.analysis.trial_pairs import Look, PairResult, judge_pair, signs_in_order
from shopwarranty.analysis.trial_sequence import Plan, Said, first_said
from tests.bench.rounds import Figures, Round

PLAN = Plan(most=80)
CHECKS = (14, 90, 180)
BY_DAY = 180


def ever_said(seed: int, ratio: float = 1.0, weeks: int = 160, pairs_a_week: int = 4) -> Said:
    """The answer told at the first weekly look that tells one; the drawn arm alone carries `ratio`."""
    rng = np.random.default_rng(seed)
    pairs = [
        _pair(rng, seed, number, number // pairs_a_week * 7, ratio) for number in range(weeks * pairs_a_week)
    ]
    for week in range(weeks + 30):
        signs = signs_in_order(pair for pair in pairs if pair.at is not None and pair.at <= week * 7)
        said, _ = first_said(signs[: PLAN.most], PLAN)
        if said is not Said.RUNNING:
            return said
    return Said.RUNNING


def _pair(rng: np.random.Generator, seed: int, number: int, laid: int, ratio: float) -> PairResult:
    """Halves of one vehicle share its frailty; one half is harder than the other, whatever its arm."""
    frailty = 0.12 * rng.gamma(1.0) * np.array([1.6, 0.6])
    other = 0 if other_comes_first(seed, number) else 1
    frailty[other] *= ratio
    failed_on = (rng.exponential(1.0, 2) / frailty) ** (1 / 0.6) * BY_DAY
    looks = [
        Look(day, bool(failed_on[other] <= day), bool(failed_on[1 - other] <= day))
        for day in CHECKS
        if rng.random() < 0.8
    ]
    outcome, day = judge_pair(looks, BY_DAY)
    return PairResult(number, outcome, None if day is None else laid + day)


def wrong_of(runs: int, seed: int) -> int:
    return sum(ever_said(seed + n) in (Said.MORE, Said.FEWER) for n in range(runs))


def _null(seed: int) -> Figures:
    wrong = wrong_of(1000, seed)
    interval = clopper_pearson(wrong, 1000, 0.99)
    values = {"wrong": wrong, "of": 1000, "low99": interval.low, "high99": interval.high}
    return Figures(interval.low <= 0.05, values)


def _doubling(seed: int) -> Figures:
    said = [ever_said(seed + n, ratio=2.0) for n in range(500)]
    found = said.count(Said.MORE)
    values = {"found": found, "of": 500, "wrong_way": said.count(Said.FEWER)}
    return Figures(clopper_pearson(found, 500, 0.99).high >= 0.8, values)


def rounds() -> tuple[Round, ...]:
    return (
        Round("alike, looked at weekly", _null),
        Round("twice as many, looked at weekly", _doubling),
    )
