"""What the looks at a trial's pairs say, by arm as drawn and as done; the bridge to the arithmetic."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from shopwarranty.analysis.trial_pairs import Answer, Look, Outcome, PairResult, answer, judge_pair
from shopwarranty.analysis.trial_pooling import Pooled, TrialFile, pool, read_file
from shopwarranty.analysis.trial_sequence import Plan
from shopwarranty.defects.failure_rule import Rule, Seen, Sight, Where, judge
from shopwarranty.defects.models import Defect, Sighting
from shopwarranty.defects.record_for_lives import shop_rule
from shopwarranty.inspections.models import Finding, Visit

from .models import Draw, Trial


@dataclass(frozen=True, slots=True)
class Results:
    """`unsaid`: halves of which nobody said how they were done; `otherwise`: done another way than drawn."""

    as_drawn: Answer
    as_done: Answer
    file: TrialFile
    halves: int
    unsaid: int
    otherwise: int


def results_of(trial: Trial) -> Results:
    """Five queries, however many pairs."""
    draws = list(trial.draws.select_related("place__piece__product", "place__piece__panel_work"))
    pairs: dict[int, list[Draw]] = defaultdict(list)
    for draw in draws:
        pairs[draw.pair].append(draw)
    pairs = {number: halves for number, halves in pairs.items() if len({half.arm for half in halves}) == 2}
    said = _said(draws, shop_rule(trial.shop), frozenset(trial.defect_kinds))
    drawn = [_result(trial, number, halves, said) for number, halves in pairs.items()]
    done = [_turned(result, pairs[result.pair]) for result in drawn if _kept_as_done(pairs[result.pair])]
    plan = Plan(trial.most_counted, trial.ratio_that_matters)
    return Results(
        as_drawn=answer(drawn, plan),
        as_done=answer(done, plan),
        file=_file(trial, drawn, plan),
        halves=len(draws),
        unsaid=sum(not draw.done_as for draw in draws),
        otherwise=sum(draw.done_as == Draw.DoneAs.OTHER for draw in draws),
    )


def pooled_of(trial: Trial, ours: TrialFile) -> Pooled | None:
    """None while there is no other shop's file."""
    others = [read_file(file.content.encode()) for file in trial.other_files.all()]
    return pool([ours, *others]) if others else None


def _file(trial: Trial, results: list[PairResult], plan: Plan) -> TrialFile:
    question = {
        "field": trial.field,
        "usual_value": trial.usual_value,
        "other_value": trial.other_value,
        "unit": trial.unit,
        "places": trial.places,
        "panels": trial.panels,
        "defect_kinds": sorted(trial.defect_kinds),
        "check_days": trial.check_days,
    }
    return TrialFile(trial.key.hex, question, trial.by_day, trial.seed, plan, tuple(results))


def _kept_as_done(halves: list[Draw]) -> bool:
    """Both halves said, and one of each arm among what was done."""
    return all(half.done_as for half in halves) and len({half.done_as for half in halves}) == 1


def _turned(result: PairResult, halves: list[Draw]) -> PairResult:
    """Both halves done the other way round: the arms change over."""
    if halves[0].done_as == Draw.DoneAs.DRAWN:
        return result
    swap = {Outcome.OTHER: Outcome.USUAL, Outcome.USUAL: Outcome.OTHER}
    return PairResult(result.pair, swap.get(result.outcome, result.outcome), result.at)


Said = Mapping[int, Mapping[int, tuple[date, bool | None]]]
"""Place -> visit -> its day, and whether the place had failed; None where it was not looked at."""


def _said(draws: list[Draw], rule: Rule, kinds: frozenset[str]) -> Said:
    places = {draw.place_id: draw.place for draw in draws if draw.place is not None}
    rows = Finding.objects.filter(
        place__in=places, visit__state=Visit.State.FINISHED, visit__by_photo=False, corrected_at__isnull=True
    ).values_list("pk", "place_id", "visit_id", "visit__happened_on", "result")
    found = list(rows)
    sights = _sights([pk for pk, *_, result in found if result == Finding.Result.DEFECT], kinds)
    said: dict[int, dict[int, tuple[date, bool | None]]] = defaultdict(dict)
    for pk, place_id, visit_id, on, result in found:
        failed: bool | None = None
        if result != Finding.Result.NOT_LOOKED:
            place = places[place_id]
            product = place.piece.product
            where = Where(place.kind, product.family if product else "", place.left_short is True)
            failed = judge(sights[pk], where, rule)[0] is Seen.FAILED
        said[place_id][visit_id] = (on, failed)
    return said


def _sights(findings: list[int], kinds: frozenset[str]) -> Mapping[int, list[Sight]]:
    sights: dict[int, list[Sight]] = defaultdict(list)
    rows = Sighting.objects.filter(finding__in=findings).exclude(defect__state=Defect.State.NOT_REPRODUCED)
    for finding, defect, kind, severity, rework in rows.values_list(
        "finding_id", "defect_id", "defect__kind", "severity", "defect__at_handover"
    ):
        if not rework and (not kinds or kind in kinds):
            sights[finding].append(Sight(defect, kind, severity))
    return sights


def _result(trial: Trial, number: int, halves: list[Draw], said: Said) -> PairResult:
    by_arm = {half.arm: half for half in halves}
    other, usual = by_arm[Draw.Arm.OTHER], by_arm[Draw.Arm.USUAL]
    laid = _laid(other, usual)
    if laid is None:
        return PairResult(number, Outcome.OPEN, None)
    seen, beside = said.get(other.place_id or 0, {}), said.get(usual.place_id or 0, {})
    looks = [
        Look((on - laid).days, failed, beside[visit][1])
        for visit, (on, failed) in seen.items()
        if visit in beside
    ]
    outcome, day = judge_pair(looks, trial.by_day)
    began = trial.set_up_at.astimezone(trial.shop.zone).date()
    return PairResult(number, outcome, None if day is None else (laid - began).days + day)


def _laid(other: Draw, usual: Draw) -> date | None:
    """The later of the two halves; None while one is still being worked on."""
    zone = other.shop.zone
    ends: list[datetime | None] = [
        half.place.piece.panel_work.finished_at if half.place else None for half in (other, usual)
    ]
    finished = [end for end in ends if end is not None]
    return max(finished).astimezone(zone).date() if len(finished) == 2 else None
