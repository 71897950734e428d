"""What the looks at a trial say, by arm as drawn and as done; the bridge to the arithmetic."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from math import inf

from shopwarranty.analysis.paired_test import Discordant
from shopwarranty.analysis.trial_blocks import JobsAnswer, Unit, jobs_answer, once_of
from shopwarranty.analysis.trial_pairs import (
    Answer,
    Look,
    Outcome,
    PairResult,
    answer,
    judge_pair,
    last_day,
)
from shopwarranty.analysis.trial_pooling import Pooled, TrialFile, pool, read_file
from shopwarranty.analysis.trial_sequence import Plan
from shopwarranty.analysis.trial_strata import ScoreTest

from .looks import Drawn, drawn_of
from .models import Draw, Trial, TrialUnit
from .technique import technique_of


@dataclass(frozen=True, slots=True)
class JobsDone:
    """Jobs of whole and closed looks by what was really done: how many of each, and how many failed."""

    other: int
    usual: int
    failed: Discordant
    once: ScoreTest


@dataclass(frozen=True, slots=True)
class Results:
    """`unsaid`: draws of which nobody said how it was done; `otherwise`, `neither`: done another way."""

    as_drawn: Answer | JobsAnswer
    as_done: Answer | JobsDone
    file: TrialFile
    halves: int
    unsaid: int
    otherwise: int
    neither: int


def results_of(trial: Trial, today: date) -> Results:
    """Six queries, however much is drawn."""
    drawn = drawn_of(trial)
    plan = Plan(trial.most_counted, trial.ratio_that_matters)
    done = [each.draw.done_as for each in drawn]
    if trial.unit == TrialUnit.JOBS:
        units = [_unit(trial, each, today) for each in drawn]
        as_drawn: Answer | JobsAnswer = jobs_answer(units, plan)
        as_done: Answer | JobsDone = _jobs_as_done(drawn, units)
        file = _file(trial, (), tuple(units), plan)
    else:
        pairs = _pairs(drawn)
        results = [_result(trial, number, halves) for number, halves in pairs.items()]
        turned = [_turned(r, pairs[r.pair]) for r in results if _kept_as_done(pairs[r.pair])]
        as_drawn, as_done = answer(results, plan), answer(turned, plan)
        file = _file(trial, tuple(results), (), plan)
    return Results(
        as_drawn=as_drawn,
        as_done=as_done,
        file=file,
        halves=len(drawn),
        unsaid=done.count(""),
        otherwise=done.count(Draw.DoneAs.OTHER),
        neither=done.count(Draw.DoneAs.NEITHER),
    )


def pooled_of(trial: Trial, ours: TrialFile) -> Pooled | None:
    """None while there is no other shop's file."""
    others = [read_file(file.content.encode()) for file in trial.other_files.all()]
    return pool([ours, *others]) if others else None


def _file(trial: Trial, pairs: tuple[PairResult, ...], jobs: tuple[Unit, ...], plan: Plan) -> TrialFile:
    question = {
        "field": trial.field,
        "field_words": technique_of(trial).words,
        "usual_value": trial.usual_value,
        "other_value": trial.other_value,
        "unit": trial.unit,
        "places": trial.places,
        "panels": trial.panels,
        "defect_kinds": sorted(trial.defect_kinds),
        "check_days": trial.check_days,
    }
    return TrialFile(trial.key.hex, question, trial.by_day, trial.seed, plan, pairs, jobs)


def _pairs(drawn: list[Drawn]) -> dict[int, list[Drawn]]:
    pairs: dict[int, list[Drawn]] = defaultdict(list)
    for each in drawn:
        pairs[each.draw.pair].append(each)
    return {number: halves for number, halves in pairs.items() if len({h.draw.arm for h in halves}) == 2}


def _result(trial: Trial, number: int, halves: list[Drawn]) -> PairResult:
    by_arm = {half.draw.arm: half for half in halves}
    other, usual = by_arm[Draw.Arm.OTHER], by_arm[Draw.Arm.USUAL]
    if other.laid is None or usual.laid is None:
        return PairResult(number, Outcome.OPEN, None)
    laid = max(other.laid, usual.laid)
    looks = [
        Look((on - laid).days, failed, usual.seen[visit][1])
        for visit, (on, failed) in other.seen.items()
        if visit in usual.seen
    ]
    outcome, day = judge_pair(looks, trial.by_day)
    return PairResult(number, outcome, None if day is None else (laid - _began(trial)).days + day)


def _began(trial: Trial) -> date:
    return trial.set_up_at.astimezone(trial.shop.zone).date()


def _kept_as_done(halves: list[Drawn]) -> bool:
    """Both halves said, and one of each arm among what was done."""
    done = [half.draw.done_as for half in halves]
    return done[0] == done[1] and done[0] in (Draw.DoneAs.DRAWN, Draw.DoneAs.OTHER)


def _turned(result: PairResult, halves: list[Drawn]) -> PairResult:
    """Both halves done the other way round: the arms change over."""
    if halves[0].draw.done_as == Draw.DoneAs.DRAWN:
        return result
    swap = {Outcome.OTHER: Outcome.USUAL, Outcome.USUAL: Outcome.OTHER}
    return PairResult(result.pair, swap.get(result.outcome, result.outcome), result.at)


def _unit(trial: Trial, drawn: Drawn, today: date) -> Unit:
    """Seen at any visit up to the last day; a job that was never laid waits as long, and says nothing."""
    zone, draw = trial.shop.zone, drawn.draw
    start = drawn.laid or draw.drawn_at.astimezone(zone).date()
    latest = last_day(trial.by_day)
    days = sorted(((on - start).days, failed) for on, failed in drawn.seen.values() if failed is not None)
    looks = [(day, failed) for day, failed in days if drawn.laid and 0 < day <= latest]
    found = next((day for day, failed in looks if failed), None)
    clean = max((day for day, failed in looks if not failed and (found is None or day < found)), default=0)
    closed = found if found is not None else next((day for day, _ in looks if day >= trial.by_day), None)
    if closed is None and (today - start).days > latest:
        closed = latest
    at = None if closed is None else (start - _began(trial)).days + closed
    return Unit(draw.pair, draw.arm == Draw.Arm.OTHER, float(clean), inf if found is None else found, at)


def _jobs_as_done(drawn: list[Drawn], units: list[Unit]) -> JobsDone:
    """Not what was drawn but what was chosen: no answer of the trial, and looked at only once."""
    done = [
        Unit(unit.number, _arm_done(each.draw), unit.last_clean, unit.found, unit.at)
        for each, unit in zip(drawn, units, strict=True)
        if unit.at is not None and each.draw.done_as in (Draw.DoneAs.DRAWN, Draw.DoneAs.OTHER)
    ]
    other = sum(unit.other for unit in done)
    failed = [unit.other for unit in done if unit.found < inf]
    counts = Discordant(sum(failed), len(failed) - sum(failed))
    return JobsDone(other, len(done) - other, counts, once_of([done]))


def _arm_done(draw: Draw) -> bool:
    """Whether the other arm's way was used."""
    return (draw.arm == Draw.Arm.OTHER) == (draw.done_as == Draw.DoneAs.DRAWN)
