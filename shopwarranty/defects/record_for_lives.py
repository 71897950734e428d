"""Reads, for many jobs at once, what the lives of their places are derived from."""

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import NamedTuple
from zoneinfo import ZoneInfo

from django.db.models import F, Q

from shopwarranty.inspections.models import Finding, Visit
from shopwarranty.jobs.models import Place
from shopwarranty.shops.models import Shop
from shopwarranty.shops.scope import required_shop_id
from shopwarranty.trade.words import REMEDIES

from .failure_rule import OwnKind, Rule, Seen, Sight, Where, judge
from .life_rules import Look, Watched
from .models import Defect, Remedy, ShopDefectKind, Sighting

STARTS_LIFE = frozenset(remedy.key for remedy in REMEDIES if remedy.starts_life)


@dataclass(frozen=True, slots=True)
class WatchedPlace:
    pk: int
    job_id: int
    family: str
    watched: Watched
    looks: tuple[Look, ...]
    remedied: tuple[date, ...]


class _Row(NamedTuple):
    """A place with its piece, panel and film: read as values, since jobs have many places."""

    pk: int
    kind: str
    left_short: bool | None
    added_on: date | None
    piece_id: int
    ended_on: date | None
    ended_why: str
    family: str | None
    panel_id: int
    finished_at: datetime | None
    removed_on: date | None
    removed_why: str
    job_id: int
    replaced_panel_id: int | None
    replaced_ended_on: date | None


_PANEL = "piece__panel_work"
_PATHS = (
    *("pk", "kind", "left_short", "added_on", "piece_id", "piece__ended_on", "piece__ended_why"),
    *("piece__product__family", "piece__panel_work_id", f"{_PANEL}__finished_at"),
    *(f"{_PANEL}__removed_on", f"{_PANEL}__removed_why", f"{_PANEL}__job_id"),
    *("piece__replaces__panel_work_id", "piece__replaces__ended_on"),
)


@dataclass(frozen=True, slots=True)
class _Told:
    """Looks and remedies by place, days of planned visits by job, days on which pieces were laid later."""

    looks: Mapping[int, list[Look]]
    remedied: Mapping[int, list[date]]
    planned: Mapping[int, list[date]]
    laid: Mapping[int, date]


def shop_rule(shop: Shop) -> Rule:
    own = {
        kind.key: OwnKind(kind.key, kind.is_failure, frozenset(kind.families), frozenset(kind.place_kinds))
        for kind in ShopDefectKind.objects.all()
    }
    return Rule(shop.failure_line, own)


def counts_as_planned(visit: Visit) -> bool:
    if visit.by_photo:
        return False
    settled_a_check = visit.origin == Visit.Origin.WALK_IN and visit.check_due_id is not None
    return visit.is_handover_look or visit.origin == Visit.Origin.PLANNED or settled_a_check


def watched_places(job_ids: list[int], rule: Rule) -> Iterator[WatchedPlace]:
    """Every place of these jobs; six queries however many there are."""
    zone = Shop.objects.get(pk=required_shop_id()).zone
    rows = Place.objects.filter(piece__panel_work__job_id__in=job_ids).order_by("pk")
    places = [_Row(*row) for row in rows.values_list(*_PATHS)]
    where = {place.pk: _where(place) for place in places}
    told = _told(job_ids, where, rule, zone)
    for place in places:
        yield WatchedPlace(
            place.pk,
            place.job_id,
            where[place.pk].family,
            _watched(place, zone, told),
            tuple(told.looks[place.pk]),
            tuple(told.remedied[place.pk]),
        )


def _where(place: _Row) -> Where:
    return Where(place.kind, place.family or "", place.left_short is True)


def _watched(place: _Row, zone: ZoneInfo, told: _Told) -> Watched:
    ends = [(place.ended_on, place.ended_why), (place.removed_on, place.removed_why)]
    gone = min(((on, why) for on, why in ends if on is not None), default=(None, ""))
    finished = place.finished_at.astimezone(zone).date() if place.finished_at else None
    laid = told.laid.get(place.piece_id) or _laid_after(place)
    planned = tuple(told.planned[place.job_id])
    return Watched(laid if finished and laid else finished, place.added_on, gone[0], gone[1], planned)


def _laid_after(place: _Row) -> date | None:
    """A piece that took the place of another on the same panel was laid the day the other ended."""
    return place.replaced_ended_on if place.replaced_panel_id == place.panel_id else None


def _told(job_ids: list[int], where: Mapping[int, Where], rule: Rule, zone: ZoneInfo) -> _Told:
    finished = Visit.objects.filter(job_id__in=job_ids, state=Visit.State.FINISHED)
    visits = {visit.pk: visit for visit in finished}
    planned: dict[int, list[date]] = defaultdict(list)
    for visit in visits.values():
        if counts_as_planned(visit):
            planned[visit.job_id].append(visit.happened_on)
    remedied, laid = _remedies(job_ids)
    return _Told(_looks(job_ids, visits, where, rule, zone), remedied, planned, laid)


def _looks(
    job_ids: list[int], visits: Mapping[int, Visit], where: Mapping[int, Where], rule: Rule, zone: ZoneInfo
) -> Mapping[int, list[Look]]:
    sights, looks = _sights(job_ids), defaultdict(list)
    seen_something = Finding.objects.filter(
        visit__job_id__in=job_ids, visit__state=Visit.State.FINISHED, corrected_at__isnull=True
    ).exclude(result=Finding.Result.NOT_LOOKED)
    for pk, visit_id, place_id, result, at in seen_something.order_by("pk").values_list(
        "pk", "visit_id", "place_id", "result", "at"
    ):
        seen: Seen = Seen.HELD
        defect: int | None = None
        if result == Finding.Result.DEFECT:
            seen, defect = judge(sights[pk], where[place_id], rule)
        visit = visits[visit_id]
        looks[place_id].append(_look(visit, looked_on(visit, at, zone), seen, defect))
    return looks


def looked_on(visit: Visit, at: datetime, zone: ZoneInfo) -> date:
    """A handover look may go on over days: each place has the day on which it was looked at."""
    began = visit.started_at.astimezone(zone).date()
    if not visit.is_handover_look or began >= visit.happened_on:
        return visit.happened_on
    return min(max(at.astimezone(zone).date(), began), visit.happened_on)


def _look(visit: Visit, on: date, seen: Seen, defect: int | None) -> Look:
    return Look(
        on,
        seen,
        planned=counts_as_planned(visit),
        handover=visit.is_handover_look,
        since=visit.since_when,
        defect=defect,
    )


def _sights(job_ids: list[int]) -> Mapping[int, list[Sight]]:
    found: dict[int, list[Sight]] = defaultdict(list)
    rows = Sighting.objects.filter(
        finding__visit__job_id__in=job_ids,
        finding__visit__state=Visit.State.FINISHED,
        finding__corrected_at__isnull=True,
    )
    for finding_id, defect_id, kind, severity, state, verified in rows.order_by("pk").values_list(
        "finding_id", "defect_id", "defect__kind", "severity", "defect__state", "defect__verified"
    ):
        void = verified is False or state == Defect.State.NOT_REPRODUCED
        found[finding_id].append(Sight(defect_id, kind, severity, void))
    return found


def _remedies(job_ids: list[int]) -> tuple[Mapping[int, list[date]], Mapping[int, date]]:
    """Days that started a life, by place; days on which new pieces were laid.

    What failed again within the look that found it was not put right by its first remedy.
    """
    again = Q(defect__recurrences__sightings__finding=F("defect__sightings__finding"))
    in_vain = set(Remedy.objects.filter(again).values_list("pk", flat=True))
    remedied: dict[int, list[date]] = defaultdict(list)
    laid: dict[int, date] = {}
    of_jobs = Q(defect__place__piece__panel_work__job_id__in=job_ids)
    new_pieces = Q(new_piece__panel_work__job_id__in=job_ids)
    for pk, place_id, kind, done_on, new_piece_id in (
        Remedy.objects.filter(of_jobs | new_pieces)
        .order_by("done_on", "pk")
        .values_list("pk", "defect__place_id", "kind", "done_on", "new_piece_id")
    ):
        if kind in STARTS_LIFE and pk not in in_vain:
            remedied[place_id].append(done_on)
        if new_piece_id is not None:
            laid.setdefault(new_piece_id, done_on)
    return remedied, laid
