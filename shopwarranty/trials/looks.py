"""What visits saw of the places, panels and jobs that were drawn."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from shopwarranty.defects.failure_rule import Rule, Seen, Sight, Where, judge
from shopwarranty.defects.models import Defect, Sighting
from shopwarranty.defects.record_for_lives import shop_rule
from shopwarranty.inspections.models import Finding, Visit
from shopwarranty.jobs.models import Place

from .models import Draw, Trial
from .pairs import places_ever_for
from .planning import fits

Visits = Mapping[int, tuple[date, bool | None]]
"""Visit -> its day, and whether there was a failure; None where that was not looked at."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """One draw with what came of it. `laid`: the day its last panel was finished; None: not yet."""

    draw: Draw
    laid: date | None
    seen: Visits


def drawn_of(trial: Trial) -> list[Drawn]:
    """Six queries, however many draws."""
    draws = list(trial.draws.select_related("place__piece__product", "place__piece__panel_work"))
    places = _places(trial, draws)
    said = _said([place for row in places.values() for place in row], trial)
    return [_drawn(trial, draw, places[draw.pk], said) for draw in draws]


def _places(trial: Trial, draws: Sequence[Draw]) -> dict[int, list[Place]]:
    """By draw, what counts: the place itself, or the places of the panel or job."""
    jobs = [draw.job_id for draw in draws if draw.place_id is None]
    wide: dict[int, list[Place]] = defaultdict(list)
    if jobs:
        for place in places_ever_for(trial, jobs).select_related("piece__product", "piece__panel_work"):
            wide[place.piece.panel_work.job_id].append(place)
    return {
        draw.pk: [draw.place] if draw.place else [p for p in wide[draw.job_id] if _counts(trial, draw, p)]
        for draw in draws
    }


def _counts(trial: Trial, draw: Draw, place: Place) -> bool:
    panel = place.piece.panel_work.panel
    return bool(panel == draw.panel) if draw.panel else fits(trial.panels, panel)


Said = Mapping[int, Visits]


def _drawn(trial: Trial, draw: Draw, places: Sequence[Place], said: Said) -> Drawn:
    there = [place for place in places if not _gone_before_laid(place, trial)]
    ends = [place.piece.panel_work.finished_at for place in there]
    finished = [end for end in ends if end is not None]
    whole = bool(ends) and len(finished) == len(ends)
    laid = max(finished).astimezone(trial.shop.zone).date() if whole else None
    seen = [(place.piece.ended_on, said.get(place.pk, {})) for place in there]
    return Drawn(draw, laid, dict(_together(seen)))


def _gone_before_laid(place: Place, trial: Trial) -> bool:
    """Laid anew before its panel was finished: it never came into service."""
    ended, finished = place.piece.ended_on, place.piece.panel_work.finished_at
    if ended is None:
        return False
    return finished is None or ended < finished.astimezone(trial.shop.zone).date()


def _together(places: Sequence[tuple[date | None, Visits]]) -> Iterator[tuple[int, tuple[date, bool | None]]]:
    """One failing place is enough; clean are all only where every one still there was looked at.

    Each with the day its film was gone, which is asked about no more from then on.
    """
    days = {visit: on for _, seen in places for visit, (on, _failed) in seen.items()}
    for visit, on in sorted(days.items()):
        answers = [
            seen[visit][1] if visit in seen else None
            for gone, seen in places
            if visit in seen or gone is None or on < gone
        ]
        failed = True if True in answers else None if None in answers else False
        yield visit, (on, failed)


def _said(places: Sequence[Place], trial: Trial) -> Said:
    rule, kinds = shop_rule(trial.shop), frozenset(trial.defect_kinds)
    by_id = {place.pk: place for place in places}
    rows = Finding.objects.filter(
        place__in=by_id, visit__state=Visit.State.FINISHED, visit__by_photo=False, corrected_at__isnull=True
    ).values_list("pk", "place_id", "visit_id", "visit__happened_on", "result")
    found = list(rows)
    sights = _sights((pk for pk, *_, result in found if result == Finding.Result.DEFECT), kinds)
    said: dict[int, dict[int, tuple[date, bool | None]]] = defaultdict(dict)
    for pk, place_id, visit_id, on, result in found:
        looked = result != Finding.Result.NOT_LOOKED
        failed = _failed(by_id[place_id], sights[pk], rule) if looked else None
        said[place_id][visit_id] = (on, failed)
    return said


def _failed(place: Place, sights: Sequence[Sight], rule: Rule) -> bool:
    product = place.piece.product
    where = Where(place.kind, product.family if product else "", place.left_short is True)
    return judge(sights, where, rule)[0] is Seen.FAILED


def _sights(findings: Iterable[int], kinds: frozenset[str]) -> Mapping[int, list[Sight]]:
    sights: dict[int, list[Sight]] = defaultdict(list)
    rows = Sighting.objects.filter(finding__in=list(findings)).exclude(
        defect__state=Defect.State.NOT_REPRODUCED
    )
    for finding, defect, kind, severity, rework in rows.values_list(
        "finding_id", "defect_id", "defect__kind", "severity", "defect__at_handover"
    ):
        if not rework and (not kinds or kind in kinds):
            sights[finding].append(Sight(defect, kind, severity))
    return sights
