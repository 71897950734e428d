"""Everything the handover page and the handover itself look at, read once in a fixed number of queries."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import OuterRef, Subquery
from django.utils.translation import get_language, override

from shopwarranty.defects.models import Defect, Sighting
from shopwarranty.films.models import Roll
from shopwarranty.inspections.models import Finding, Visit
from shopwarranty.jobs.models import Job, Vehicle
from shopwarranty.jobs.record import load_record
from shopwarranty.jobs.record_parts import JobRecord, PanelRecord
from shopwarranty.shops.models import Change, Shop
from shopwarranty.warranty.actions import in_force, preview_of
from shopwarranty.warranty.certificate_checks import check
from shopwarranty.warranty.disclosures import Disclosure
from shopwarranty.warranty.models import Certificate, PlanVersion, ReasonGiven
from shopwarranty.warranty.plan_actions import ACCEPTED, usual_version
from shopwarranty.warranty.preparing import ReadRecord
from shopwarranty.warranty.refusals import CertificateRefusal
from shopwarranty.warranty.snapshot import Built, NoHolder, NothingToCertify, standing


@dataclass(frozen=True, slots=True)
class OpenDefect:
    """A defect nobody has put right, as it was seen last."""

    id: int
    panel_id: int
    place_id: int
    words: str
    severity: int


@dataclass(frozen=True, slots=True)
class PanelLook:
    """What the handover look says of one panel: places looked at and clean, and wrong, of how many."""

    panel: PanelRecord
    clean: int
    wrong: int
    all: int

    @property
    def unseen(self) -> int:
        return self.all - self.clean - self.wrong

    @property
    def looked_at(self) -> bool:
        return bool(self.clean or self.wrong)

    @property
    def whole(self) -> bool:
        return self.unseen == 0


@dataclass(frozen=True, slots=True)
class Situation:
    """`built` is the certificate as it would be issued now; None when it cannot be built yet."""

    job: Job
    shop: Shop
    record: JobRecord
    read: ReadRecord
    today: date
    plan: PlanVersion | None
    built: Built | None
    disclosures: tuple[Disclosure, ...]
    visit: Visit | None
    looks: tuple[PanelLook, ...]
    defects: tuple[OpenDefect, ...]
    rolls_below_zero: tuple[Roll, ...]
    reasons: Mapping[str, ReasonGiven]
    accepted: Mapping[str, Change]
    beforehand: Certificate | None

    @property
    def is_customers(self) -> bool:
        kind, owned = self.record.kind, self.record.vehicle.owned
        return kind == Job.Kind.CUSTOMER and owned == Vehicle.Owned.CUSTOMER

    @property
    def panels(self) -> tuple[PanelRecord, ...]:
        return standing(self.record)

    @property
    def slug(self) -> str:
        return str(self.shop.slug)


def load_situation(job: Job, now: datetime, plan: PlanVersion | None = None) -> Situation:
    shop = job.shop
    record = load_record(job)
    read = ReadRecord(record, get_language())
    version = plan or usual_version()
    today = now.astimezone(shop.zone).date()
    built = built_now(job, version, today, now, read)
    visit = handover_visit(job)
    return Situation(
        job=job,
        shop=shop,
        record=record,
        read=read,
        today=today,
        plan=version,
        built=built,
        disclosures=check(built.snapshot) if built else (),
        visit=visit,
        looks=looks_of(record, visit),
        defects=open_defects(job, record),
        rolls_below_zero=rolls_below_zero(record),
        reasons=reasons_given(job),
        accepted=accepted_warnings(version),
        beforehand=in_force(job),
    )


def reasons_given(job: Job) -> dict[str, ReasonGiven]:
    """The latest to each question."""
    rows = ReasonGiven.objects.filter(job=job).select_related("member").order_by("at", "pk")
    return {row.question: row for row in rows}


def built_now(
    job: Job, version: PlanVersion | None, today: date, now: datetime, read: ReadRecord
) -> Built | None:
    if version is None:
        return None
    try:
        with override(version.language):
            return preview_of(job=job, plan_version=version, handed_over_on=today, now=now, read=read)
    except (NoHolder, NothingToCertify, CertificateRefusal):
        return None


def handover_visit(job: Job) -> Visit | None:
    visits = Visit.objects.filter(job=job, is_handover_look=True).exclude(state=Visit.State.DROPPED)
    return visits.order_by("-pk").first()


def looks_of(record: JobRecord, visit: Visit | None) -> tuple[PanelLook, ...]:
    said: dict[int, str] = {}
    if visit is not None:
        rows = Finding.objects.filter(visit=visit, corrected_at__isnull=True)
        said = dict(rows.values_list("place", "result"))
    return tuple(panel_look(panel, said) for panel in standing(record))


def panel_look(panel: PanelRecord, said: Mapping[int, str]) -> PanelLook:
    results = [said.get(place.id, "") for place in panel.places]
    clean, wrong = results.count(Finding.Result.CLEAN), results.count(Finding.Result.DEFECT)
    return PanelLook(panel, clean, wrong, len(results))


def open_defects(job: Job, record: JobRecord) -> tuple[OpenDefect, ...]:
    """Of this job's places that still carry film, each with its latest severity."""
    last = Sighting.objects.filter(defect=OuterRef("pk")).order_by("-pk")
    rows = Defect.objects.filter(state=Defect.State.OPEN, place__piece__panel_work__job=job)
    rows = rows.annotate(severity=Subquery(last.values("severity")[:1])).order_by("place__walk", "pk")
    panel_of = {place.id: panel.id for panel in record.panels for place in panel.places}
    return tuple(
        OpenDefect(row.pk, panel_of[row.place_id], row.place_id, row.kind_said, row.severity or 0)
        for row in rows
        if row.place_id in panel_of
    )


def rolls_below_zero(record: JobRecord) -> tuple[Roll, ...]:
    ids = {piece.roll_id for panel in record.panels for piece in panel.standing_pieces if piece.roll_id}
    rows: Any = Roll.objects.with_left().filter(pk__in=ids)
    return tuple(row for row in rows if row.left_mm is not None and row.left_mm < 0)


def accepted_warnings(version: PlanVersion | None) -> dict[str, Change]:
    """Items the law warns about that an owner accepted when publishing the plan."""
    if version is None:
        return {}
    rows = Change.objects.filter(table=PlanVersion._meta.db_table, row=version.pk, act=ACCEPTED)
    return {str(row.after.get("item", "")): row for row in rows}
