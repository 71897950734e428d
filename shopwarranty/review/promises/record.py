"""Jobs in service with what was claimed and put right on them, in a fixed number of queries."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import Count, F, Max, Min, Q

from shopwarranty.claims.models import Claim, ClaimedDefect
from shopwarranty.defects.models import Remedy
from shopwarranty.jobs.models import FilmPiece, Job, Place
from shopwarranty.shops.models import Shop
from shopwarranty.warranty.models import Certificate

from ..models import ClaimsOnRecord


@dataclass(frozen=True, slots=True)
class JobRow:
    """`known_on`: since when remedies of it are on record; `claims_on`: claims. `gone_on`: film gone, or
    certificate withdrawn. `last_day`: of its promise; None where it is not known."""

    pk: int
    vehicle: int
    handed_over_on: date
    known_on: date
    claims_on: date
    gone_on: date | None
    last_day: date | None
    families: frozenset[str]


@dataclass(frozen=True, slots=True)
class ClaimRow:
    """`job` None: nobody has matched it to a job yet. `families` of the places it is about."""

    pk: int
    job: int | None
    reported_on: date
    received_on: date
    families: frozenset[str]


@dataclass(frozen=True, slots=True)
class RemedyRow:
    """`cost` None: not recorded, which is not nothing."""

    pk: int
    job: int
    on: date
    panel: str
    cause: str
    family: str
    cost: Decimal | None


@dataclass(frozen=True, slots=True)
class PromiseRecord:
    jobs: tuple[JobRow, ...]
    claims: tuple[ClaimRow, ...]
    remedies: tuple[RemedyRow, ...]
    claims_since: date | None

    @property
    def families(self) -> tuple[str, ...]:
        """The one on most jobs first."""
        counts: dict[str, int] = defaultdict(int)
        for job in self.jobs:
            for family in job.families:
                counts[family] += 1
        return tuple(sorted(counts, key=lambda family: (-counts[family], family)))


def load_promises(shop: Shop) -> PromiseRecord:
    """Customers' jobs that were handed over, with all their claims and remedies."""
    said = ClaimsOnRecord.objects.first()
    since = said.since if said else None
    jobs = _jobs(shop, since)
    of_vehicle: dict[int, list[JobRow]] = defaultdict(list)
    for job in jobs:
        of_vehicle[job.vehicle].append(job)
    known = frozenset(job.pk for job in jobs)
    return PromiseRecord(jobs, _claims(shop, known, of_vehicle), _remedies(known), since)


def _jobs(shop: Shop, since: date | None) -> tuple[JobRow, ...]:
    rows = Job.objects.filter(kind=Job.Kind.CUSTOMER, handed_over_on__isnull=False).order_by("pk")
    pieces = _pieces()
    promised, withdrawn = _certificates(shop)
    late = _late_record()
    found = []
    values: Any = rows.values_list("pk", "vehicle_id", "handed_over_on", "imported_at")
    for pk, vehicle, handed, imported in values:
        families, ended = pieces.get(pk, (frozenset(), None))
        gone = min((day for day in (ended, withdrawn.get(pk)) if day), default=None)
        claims_on = handed
        if imported is not None:
            claims_on = min(imported.astimezone(shop.zone).date(), since or date.max)
        found.append(
            JobRow(
                pk,
                vehicle,
                handed,
                max(handed, late.get(pk, handed)),
                max(handed, claims_on),
                None if gone is None else max(handed, gone),
                promised.get(pk),
                families,
            )
        )
    return tuple(found)


def _pieces() -> dict[int, tuple[frozenset[str], date | None]]:
    """Of each job the families of its film, and the day its last film went; None while some is left."""
    rows: Any = FilmPiece.objects.values("panel_work__job", "product__family").annotate(
        left=Count("pk", filter=Q(ended_on__isnull=True)), last=Max("ended_on")
    )
    families: dict[int, set[str]] = defaultdict(set)
    left: dict[int, int] = defaultdict(int)
    last: dict[int, date] = {}
    for row in rows.order_by():
        job = row["panel_work__job"]
        families[job] |= {row["product__family"]} - {None, ""}
        left[job] += row["left"]
        if row["last"]:
            last[job] = max(last.get(job, row["last"]), row["last"])
    return {job: (frozenset(found), None if left[job] else last.get(job)) for job, found in families.items()}


def _certificates(shop: Shop) -> tuple[dict[int, date], dict[int, date]]:
    """The last day each job is promised now; and the day its promise was withdrawn altogether.

    What an edition said that was replaced is not promised any more.
    """
    states = Certificate.State
    standing = Certificate.objects.filter(state=states.ISSUED).values_list("job_id")
    promised = dict(standing.annotate(last=Max("last_day")).order_by())
    gone = Certificate.objects.filter(state=states.WITHDRAWN).values_list("job_id")
    withdrawn = dict(gone.annotate(at=Max("withdrawn_at")).order_by())
    days = {job: at.astimezone(shop.zone).date() for job, at in withdrawn.items() if at}
    return promised, {job: on for job, on in days.items() if job not in promised}


def _late_record() -> dict[int, date]:
    """Jobs of which no place was on record from the start, with the first day one was."""
    rows: Any = Place.objects.values_list("piece__panel_work__job")
    rows = rows.annotate(first=Min("added_on"), since_start=Count("pk", filter=Q(added_on__isnull=True)))
    return {job: first for job, first, since_start in rows.filter(since_start=0).order_by() if first}


def _claims(shop: Shop, known: frozenset[int], of_vehicle: dict[int, list[JobRow]]) -> tuple[ClaimRow, ...]:
    places: dict[int, list[tuple[int, str]]] = defaultdict(list)
    items = ClaimedDefect.objects.filter(place__isnull=False).order_by("pk")
    for claim, job, family in items.values_list(
        "claim_id", "place__piece__panel_work__job_id", "place__piece__product__family"
    ):
        places[claim].append((job, family or ""))
    rows = Claim.objects.order_by("pk").values_list(
        "pk", "vehicle_id", "certificate__job_id", "first_reported_at", "received_at"
    )
    found = []
    for pk, vehicle, certified, reported, received in rows:
        reported_on = reported.astimezone(shop.zone).date()
        about = _job_of(places[pk], certified, of_vehicle.get(vehicle, []), reported_on)
        if about is None or about in known:
            families = frozenset(family for _, family in places[pk] if family)
            found.append(ClaimRow(pk, about, reported_on, received.astimezone(shop.zone).date(), families))
    return tuple(found)


def _job_of(
    places: list[tuple[int, str]], certified: int | None, jobs: list[JobRow], reported_on: date
) -> int | None:
    """By its place, else its certificate, else the only job there was."""
    if places:
        return places[0][0]
    if certified is not None:
        return certified
    there = [job.pk for job in jobs if job.handed_over_on <= reported_on]
    return there[0] if len(there) == 1 else None


def _remedies(known: frozenset[int]) -> tuple[RemedyRow, ...]:
    """After handover only: what was put right before is rework. Goodwill lies outside the promise."""
    rows = Remedy.objects.filter(defect__at_handover=False, is_goodwill=False).order_by("pk")
    rows = rows.annotate(
        job=F("defect__place__piece__panel_work__job_id"),
        panel=F("defect__place__piece__panel_work__panel"),
        cause=F("defect__cause"),
        family=F("defect__place__piece__product__family"),
    )
    values: Any = rows.values_list("pk", "job", "done_on", "panel", "cause", "family", "cost")
    return tuple(
        RemedyRow(pk, job, on, panel, cause, family or "", cost)
        for pk, job, on, panel, cause, family, cost in values
        if job in known
    )
