"""Small rows for tests, made straight through the models. Enter a shop's scope first (fixture `ours`).

Everything has a default that makes sense, so that a test says only what it is about.
"""

from collections.abc import Iterable, Mapping
from datetime import UTC, date, datetime, time, timedelta
from itertools import count
from typing import Any

from shopwarranty.defects.models import Defect, Remedy, Sighting
from shopwarranty.films.models import FilmProduct, Lot, Roll
from shopwarranty.inspections.models import (
    BookedQuarter,
    Booking,
    Check,
    CheckPlan,
    Finding,
    HolderReport,
    Visit,
)
from shopwarranty.jobs.models import (
    FilmPiece,
    Holding,
    Job,
    PanelMember,
    PanelWork,
    Party,
    Place,
    Plate,
    Vehicle,
)
from shopwarranty.trade import catalogue

from .conftest import NOW as NOW

TODAY = NOW.date()
_next = count(1)


def noon(day: date) -> datetime:
    """Midday UTC: the same calendar day in every zone the tests use."""
    return datetime.combine(day, time(12), tzinfo=UTC)


def days_ago(days: int) -> date:
    return TODAY - timedelta(days=days)


def a_holder(name: str = "A. Example", **more: Any) -> Party:
    values = {"email": f"owner{next(_next)}@example.com", "telephone": "555-0142", **more}
    return Party.objects.create(name=name, **values)


def a_vehicle(*, plate: str = "", holder: Party | None = None, **more: Any) -> Vehicle:
    """With a plate and, unless it is the shop's own, a holder."""
    values = {"make": "Osk", "model": "Tarn", "year": 2025, "colour": "grey", "body_style": "suv", **more}
    vehicle: Vehicle = Vehicle.objects.create(**values)
    text = plate or f"7FN {next(_next):03d}"
    searched = "".join(text.upper().split())
    Plate.objects.create(vehicle=vehicle, text=text, searched=searched, since=date(2025, 1, 1))
    if vehicle.owned == Vehicle.Owned.CUSTOMER:
        party = holder or a_holder()
        Holding.objects.create(vehicle=vehicle, party=party, role="holder", since=date(2025, 1, 1))
    return vehicle


def a_product(family: str = "clear-protective", **more: Any) -> FilmProduct:
    values = {"maker": "Hollow Lake Films", "name": f"Clear {next(_next)}", "family": family, **more}
    product: FilmProduct = FilmProduct.objects.create(**values)
    return product


def a_lot(product: FilmProduct | None = None, **more: Any) -> Lot:
    values = {"product": product or a_product(), "number": f"L{next(_next):04d}", **more}
    lot: Lot = Lot.objects.create(**values)
    return lot


def a_roll(lot: Lot | None = None, **more: Any) -> Roll:
    of = lot or a_lot()
    values = {
        "lot": of,
        "product": of.product,
        "label": f"R{next(_next):04d}",
        "width_mm": 1524.0,
        "length_mm": 15000.0,
        **more,
    }
    roll: Roll = Roll.objects.create(**values)
    return roll


def a_job(
    *,
    vehicle: Vehicle | None = None,
    panels: Iterable[str] = ("left-front-door",),
    handed_over_on: date | None = None,
    finished_on: date | None = None,
    lot: Lot | None = None,
    installer: Any = None,
    **more: Any,
) -> Job:
    """A job with finished panels (`finished_on`: day of handover, else today), handed over if it says so."""
    number, done_on = next(_next), finished_on or handed_over_on or TODAY
    values = {
        "ref": f"J{number:04d}",
        "started_at": noon(done_on) - timedelta(hours=3),
        "entered_at": noon(done_on),
        **more,
    }
    if handed_over_on:
        values |= {
            "state": Job.State.HANDED_OVER,
            "handed_over_on": handed_over_on,
            "handed_over_at": noon(handed_over_on),
        }
    job: Job = Job.objects.create(vehicle=vehicle or a_vehicle(), **values)
    film = lot or (a_lot() if panels else None)
    for panel in panels:
        a_panel(job, panel, lot=film, finished_on=done_on, installer=installer)
    return job


def a_report(job: Job, *, sent_at: datetime = NOW, **more: Any) -> HolderReport:
    """What the holder of the job's vehicle sent in, not looked at yet."""
    holding = job.vehicle.holdings.filter(until__isnull=True).first()
    values = {"party": holding.party if holding else None, "words": "An edge lifts.", **more}
    report: HolderReport = HolderReport.objects.create(
        vehicle=job.vehicle, job=job, sent_at=sent_at, **values
    )
    return report


def a_panel(
    job: Job,
    panel: str = "left-front-door",
    *,
    lot: Lot | None = None,
    finished_on: date | None = TODAY,
    installer: Any = None,
    **more: Any,
) -> PanelWork:
    """A panel with one piece of film and all its places; `finished_on=None`: still being worked on."""
    walk = catalogue.panel_keys(job.vehicle.body_style).index(panel)
    finished_at = noon(finished_on) if finished_on else None
    work: PanelWork = PanelWork.objects.create(
        job=job, panel=panel, walk=walk, finished_at=finished_at, **more
    )
    if installer is not None:
        PanelMember.objects.create(panel_work=work, member=installer)
    a_piece(work, lot=lot or a_lot())
    return work


def a_piece(work: PanelWork, *, lot: Lot | None = None, **more: Any) -> FilmPiece:
    """A further piece of film on the panel, with the places the catalogue knows."""
    values = {"product": lot.product if lot else None, "lot": lot, **more}
    number = work.pieces.count() + 1
    piece: FilmPiece = FilmPiece.objects.create(panel_work=work, number=number, **values)
    panel = catalogue.panel(work.job.vehicle.body_style, work.panel)
    Place.objects.bulk_create(
        [
            Place(piece=piece, key=place.key, kind=place.kind.value, walk=walk)
            for walk, place in enumerate(catalogue.default_places(panel))
        ]
    )
    return piece


def places_of(job: Job, panel: str = "") -> list[Place]:
    """The job's places in walking order, of all panels or of one."""
    rows = Place.objects.filter(piece__panel_work__job=job).select_related("piece__panel_work")
    rows = rows.filter(piece__panel_work__panel=panel) if panel else rows
    return list(rows.order_by("piece__panel_work__walk", "piece__number", "walk"))


def a_place(job: Job, key: str, panel: str = "") -> Place:
    return next(place for place in places_of(job, panel) if place.key == key)


def a_plan(key: str = "two-week", **more: Any) -> CheckPlan:
    values = {
        "name": "Two-week edge check",
        "offset_days": 14,
        "days_before": 7,
        "days_after": 14,
        **more,
    }
    plan: CheckPlan = CheckPlan.objects.get_or_create(key=key, defaults=values)[0]
    return plan


def a_check(
    job: Job | None = None, *, due_on: date = TODAY, plan: CheckPlan | None = None, **more: Any
) -> Check:
    """A check due on that day, a week of window before it and two after."""
    values = {
        "window_from": due_on - timedelta(days=7),
        "window_to": due_on + timedelta(days=14),
        **more,
    }
    of = job or a_job(handed_over_on=due_on - timedelta(days=14))
    check: Check = Check.objects.create(job=of, plan=plan or a_plan(), due_on=due_on, **values)
    return check


def a_booking(check: Check, *, on: date | None = None, hour: int = 15, **more: Any) -> Booking:
    """A standing booking on that day (the check's due day, else) at a UTC hour, in the first bay."""
    day, zone = on or check.due_on, check.shop.zone
    starts = datetime.combine(day, time(hour), tzinfo=UTC)
    values = {
        "starts_local": f"{starts.astimezone(zone):%Y-%m-%dT%H:%M}",
        "zone": check.shop.time_zone,
        "minutes": 45,
        "lane": 1,
        "booked_at": NOW,
        "changed_at": NOW,
        **more,
    }
    booking: Booking = Booking.objects.create(check_due=check, starts_at=starts, **values)
    quarters = [starts + timedelta(minutes=15 * n) for n in range(3)]
    BookedQuarter.objects.bulk_create(
        BookedQuarter(booking=booking, lane=booking.lane, quarter=quarter) for quarter in quarters
    )
    return booking


def a_visit(job: Job, on: date = TODAY, *, finished: bool = True, **more: Any) -> Visit:
    """A planned check on that day, finished unless the test says otherwise."""
    values = {
        "origin": Visit.Origin.PLANNED,
        "state": Visit.State.FINISHED if finished else Visit.State.OPEN,
        "started_at": noon(on),
        "finished_at": noon(on) + timedelta(minutes=30) if finished else None,
        "entered_at": noon(on),
        **more,
    }
    visit: Visit = Visit.objects.create(job=job, happened_on=on, **values)
    return visit


def a_finding(visit: Visit, place: Place, result: str = "clean", **more: Any) -> Finding:
    values = {"said": Finding.Said.TAPPED, "at": visit.started_at, "order": next(_next), **more}
    finding: Finding = Finding.objects.create(visit=visit, place=place, result=result, **values)
    return finding


def a_defect(
    visit: Visit,
    place: Place,
    kind: str = "edge-lift",
    *,
    severity: int = 2,
    extent_mm: float = 12,
    **more: Any,
) -> Defect:
    """A defect with its finding and first sighting at that visit; one still open gets a further sighting."""
    finding = visit.findings.filter(place=place).first() or a_finding(visit, place, "defect")
    values = {
        "number": f"D{next(_next):04d}",
        "kind_words": kind.replace("-", " "),
        "found_on": visit.happened_on,
        "at_handover": visit.is_handover_look,
        **more,
    }
    open_one = Defect.objects.filter(place=place, kind=kind, state="open").first()
    defect: Defect = open_one or Defect.objects.create(place=place, kind=kind, **values)
    a_sighting(defect, finding, severity=severity, extent_mm=extent_mm)
    return defect


def a_sighting(defect: Defect, finding: Finding, *, severity: int = 2, extent_mm: float = 12) -> Sighting:
    sighting: Sighting = Sighting.objects.create(
        defect=defect, finding=finding, severity=severity, extent_mm=extent_mm
    )
    return sighting


def a_remedy(defect: Defect, on: date = TODAY, kind: str = "reheat", **more: Any) -> Remedy:
    remedy: Remedy = Remedy.objects.create(defect=defect, kind=kind, done_on=on, done_at=noon(on), **more)
    Defect.objects.filter(pk=defect.pk, state="open").update(state="remedied")
    return remedy


def looked_at(
    job: Job, on: date, wrong: Mapping[str, int] | None = None, *, unseen: Iterable[str] = (), **visit: Any
) -> Visit:
    """A finished visit to every place: `wrong` maps place key to severity, `unseen` was skipped."""
    made = a_visit(job, on, finished=False, **visit)
    for place in places_of(job):
        if place.key in (wrong or {}):
            a_defect(made, place, severity=(wrong or {})[place.key])
        else:
            a_finding(made, place, "not_looked" if place.key in set(unseen) else "clean")
    Visit.objects.filter(pk=made.pk).update(state="finished", finished_at=noon(on) + timedelta(minutes=30))
    made.refresh_from_db()
    return made
