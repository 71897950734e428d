"""The whole record of one job, read in a fixed number of queries however large it is."""

from collections import defaultdict
from collections.abc import Iterable
from typing import Any, TypeVar

from django.db.models import Q

from . import record_parts as parts
from .models import (
    Deviation,
    FieldValue,
    FilmPiece,
    Holding,
    Job,
    JobSession,
    LayingEvent,
    PanelIntake,
    PanelMember,
    PanelWork,
    Photo,
    Place,
    Plate,
    Reading,
    RemovedItem,
    Vehicle,
)
from .nearest import nearest_reading
from .record_parts import JobRecord, PanelRecord, PieceRecord, PlaceRecord
from .shop_catalogue import ShopCatalogue
from .technique_rows import JOB_FIELDS, NOT_RECORDED, PANEL_FIELDS, Recorded, all_recorded, place_fields

T = TypeVar("T")


def load_record(job: Job, catalogue: ShopCatalogue | None = None) -> JobRecord:
    """The job as it stands now. Give a `catalogue` when several records are read in one go."""
    fresh = Job.objects.select_related("shop", "vehicle", "bay", "method_version__method").get(pk=job.pk)
    return Loading(fresh, catalogue or ShopCatalogue(fresh.shop)).record()


class Loading:
    """The rows of one job by what they belong to, and the parts made of them."""

    def __init__(self, job: Job, catalogue: ShopCatalogue) -> None:
        self.job, self.catalogue, self.body = job, catalogue, job.vehicle.body_style
        of_job = {"panel_work__job": job}
        self.panels = list(PanelWork.objects.filter(job=job))
        self.names = {row.pk: catalogue.panel_name(self.body, row.panel) for row in self.panels}
        pieces = FilmPiece.objects.filter(**of_job).select_related("product", "lot", "roll", "cut")
        self.pieces = grouped(pieces, "panel_work_id")
        places = list(Place.objects.filter(piece__panel_work__job=job))
        self.places = grouped(places, "piece_id")
        self.place_by_id = {place.pk: place for place in places}
        self.members = grouped(PanelMember.objects.filter(**of_job).select_related("member"), "panel_work_id")
        self.intakes = grouped(PanelIntake.objects.filter(**of_job), "panel_work_id")
        self.items = grouped(RemovedItem.objects.filter(**of_job), "panel_work_id")
        self.events = grouped(LayingEvent.objects.filter(**of_job), "panel_work_id")
        self.own = OwnValues(job)
        rows = Deviation.objects.filter(job=job, undone_at__isnull=True).select_related("member")
        self.deviations = [deviation_record(row) for row in rows]
        photos = Photo.objects.filter(job=job, set_aside_at__isnull=True)
        self.photos = tuple(photo_record(row) for row in photos)
        readings = Reading.objects.filter(job=job).select_related("member")
        self.readings = tuple(reading_record(row) for row in readings)

    def record(self) -> JobRecord:
        job, method = self.job, self.job.method_version
        people, plates = people_of(job.vehicle), plates_of(job.vehicle)
        zone = self.catalogue.shop.zone
        started_on = job.started_at.astimezone(zone).date()
        return JobRecord(
            id=job.pk,
            uid=job.uid,
            version=job.version,
            ref=job.ref,
            kind=job.kind,
            state=job.state,
            vehicle=vehicle_record(job.vehicle, self.catalogue),
            plate=next((plate.text for plate in plates if plate.until is None), ""),
            plates=plates,
            holder=people.get("holder"),
            owner=people.get("owner"),
            contact=people.get("contact"),
            payer=people.get("payer"),
            method=parts.MethodRecord(method.pk, method.method.name, method.number, method.values)
            if method
            else None,
            no_method_reason=job.no_method_reason,
            bay=job.bay.name if job.bay else "",
            planned_handover_on=job.planned_handover_on,
            quoted_months=job.quoted_months,
            ready_at=job.ready_at,
            handed_over_at=job.handed_over_at,
            handed_over_on=job.handed_over_on,
            makers_procedure=job.makers_procedure,
            sensors_clear=job.sensors_clear,
            blades_returned=job.blades_returned,
            note=job.note,
            imported_at=job.imported_at,
            started_at=job.started_at,
            started_on=started_on,
            entered_at=job.entered_at,
            late_days=max(0, (job.entered_at.astimezone(zone).date() - started_on).days),
            confirmed_at=job.confirmed_at,
            values=all_recorded(job, JOB_FIELDS),
            own=self.own.of_job,
            deviations=tuple(d for d in self.deviations if d.panel_id is None),
            panels=tuple(self.panel(row) for row in self.panels),
            readings=self.readings,
            sessions=sessions_of(job),
            photos=self.photos,
        )

    def panel(self, row: PanelWork) -> PanelRecord:
        zone = self.catalogue.shop.zone
        intake = next(iter(self.intakes[row.pk]), None)
        return PanelRecord(
            id=row.pk,
            uid=row.uid,
            version=row.version,
            key=row.panel,
            name=self.names[row.pk],
            walk=row.walk,
            values=all_recorded(row, PANEL_FIELDS),
            confirmed_at=row.confirmed_at,
            finished_at=row.finished_at,
            finished_on=row.finished_at.astimezone(zone).date() if row.finished_at else None,
            removed_on=row.removed_on,
            removed_why=row.removed_why,
            note=row.note,
            members=tuple(member_part(member) for member in self.members[row.pk]),
            intake=intake_record(intake) if intake else None,
            pieces=tuple(self.piece(row, piece) for piece in self.pieces[row.pk]),
            removed_items=tuple(item_record(item, self.names[row.pk]) for item in self.items[row.pk]),
            laying_events=tuple(self.event(row, event) for event in self.events[row.pk]),
            photos=tuple(photo for photo in self.photos if photo.panel_id == row.pk),
            reading=nearest_reading(self.readings, row.pk, row.finished_at, zone),
            own=self.own.of_panels[row.pk],
            own_deviations=tuple(d for d in self.deviations if d.panel_id == row.pk and d.place_id is None),
        )

    def piece(self, panel: PanelWork, row: FilmPiece) -> PieceRecord:
        cut = row.cut
        return PieceRecord(
            id=row.pk,
            uid=row.uid,
            version=row.version,
            number=row.number,
            layer=row.layer,
            name=row.name,
            film=film_record(row.product) if row.product else None,
            lot_id=row.lot_id,
            lot=row.lot.number if row.lot else "",
            lot_quarantined=bool(row.lot and row.lot.quarantined_at),
            lot_unknown_reason=row.lot_unknown_reason,
            roll_id=row.roll_id,
            roll=row.roll.label if row.roll else "",
            cut=parts.CutRecord(cut.pk, cut.along_mm, cut.across_mm) if cut else None,
            replaces_id=row.replaces_id,
            supplied_by_owner=row.supplied_by_owner,
            ended_on=row.ended_on,
            ended_why=row.ended_why,
            places=tuple(self.place(panel, place) for place in self.places[row.pk]),
        )

    def place(self, panel: PanelWork, row: Place) -> PlaceRecord:
        return PlaceRecord(
            id=row.pk,
            uid=row.uid,
            version=row.version,
            key=row.key,
            kind=row.kind,
            name=self.catalogue.place_name(self.body, panel.panel, row.key, row.name),
            walk=row.walk,
            values=all_recorded(row, place_fields(row.kind)),
            other_piece_id=row.other_piece_id,
            added_on=row.added_on,
            own=self.own.of_places[row.pk],
            deviations=tuple(d for d in self.deviations if d.place_id == row.pk),
        )

    def event(self, panel: PanelWork, row: LayingEvent) -> parts.LayingEventRecord:
        place = self.place_by_id.get(row.place_id or 0)
        name = self.catalogue.place_name(self.body, panel.panel, place.key, place.name) if place else ""
        return parts.LayingEventRecord(row.pk, row.kind, row.place_id, name, row.at, row.note)


class OwnValues:
    """Values of shop-defined fields by what they belong to; one query."""

    def __init__(self, job: Job) -> None:
        self.of_job: tuple[parts.OwnValue, ...] = ()
        self.of_panels: dict[int, tuple[parts.OwnValue, ...]] = defaultdict(tuple)
        self.of_places: dict[int, tuple[parts.OwnValue, ...]] = defaultdict(tuple)
        of_job = Q(job=job) | Q(panel_work__job=job) | Q(place__piece__panel_work__job=job)
        for row in FieldValue.objects.filter(of_job).select_related("field").order_by("field__name", "pk"):
            self.add(row)

    def add(self, row: FieldValue) -> None:
        field = row.field
        value = parts.OwnValue(field.key, field.name, field.unit, row.value, row.basis)
        if row.place_id:
            self.of_places[row.place_id] += (value,)
        elif row.panel_work_id:
            self.of_panels[row.panel_work_id] += (value,)
        else:
            self.of_job += (value,)


def grouped(rows: Iterable[T], by: str) -> dict[Any, list[T]]:
    found: dict[Any, list[T]] = defaultdict(list)
    for row in rows:
        found[getattr(row, by)].append(row)
    return found


def vehicle_record(row: Vehicle, catalogue: ShopCatalogue) -> parts.VehicleRecord:
    body_name = catalogue.body_name(row.body_style)
    return parts.VehicleRecord(
        id=row.pk,
        title=" ".join(part for part in (row.make, row.model) if part) or body_name,
        make=row.make,
        model=row.model,
        year=row.year,
        colour=row.colour,
        body_style=row.body_style,
        body_name=body_name,
        use=row.use,
        owned=row.owned,
        vin=row.vin,
        vin_kind=row.vin_kind,
        vin_reason=row.vin_reason,
        note=row.note,
    )


def people_of(vehicle: Vehicle) -> dict[str, parts.PartyRecord]:
    """Who stands in which role now."""
    rows = Holding.objects.filter(vehicle=vehicle, until__isnull=True).select_related("party")
    return {row.role: party_record(row.party) for row in reversed(rows)}


def plates_of(vehicle: Vehicle) -> tuple[parts.PlateRecord, ...]:
    rows = Plate.objects.filter(vehicle=vehicle)
    return tuple(parts.PlateRecord(row.text, row.since, row.until) for row in rows)


def sessions_of(job: Job) -> tuple[parts.SessionRecord, ...]:
    rows = JobSession.objects.filter(job=job).select_related("member")
    return tuple(
        parts.SessionRecord(row.pk, str(row.member or ""), row.started_at, row.stopped_at) for row in rows
    )


def party_record(row: Any) -> parts.PartyRecord:
    return parts.PartyRecord(
        row.pk, row.kind, row.name, row.email, row.telephone, row.address, row.language, row.is_consumer
    )


def reading_record(row: Reading) -> parts.ReadingRecord:
    return parts.ReadingRecord(
        id=row.pk,
        version=row.version,
        at=row.at,
        entered_at=row.entered_at,
        panel_id=row.panel_work_id,
        air=measured(row.air_c, row.air_c_basis, row.air_typed),
        surface=measured(row.surface_c, row.surface_c_basis, row.surface_typed),
        humidity=measured(row.humidity, row.humidity_basis, ""),
        instrument=row.instrument,
        member=row.member.name if row.member else "",
    )


def measured(value: float | None, basis: str, typed: str) -> Recorded:
    return NOT_RECORDED if value is None else Recorded(value, basis, typed)


def film_record(row: Any) -> parts.FilmRecord:
    return parts.FilmRecord(
        id=row.pk,
        maker=row.maker,
        name=row.name,
        family=row.family,
        finish=row.finish,
        wash_after_hours=row.wash_after_hours,
        apply_min_c=row.apply_min_c,
        apply_max_c=row.apply_max_c,
        humidity_max=row.humidity_max,
        post_heat_min_c=row.post_heat_min_c,
        post_heat_max_c=row.post_heat_max_c,
        sold_from=row.sold_from,
        sold_to=row.sold_to,
    )


def member_part(row: PanelMember) -> parts.MemberPart:
    return parts.MemberPart(row.member_id, row.member.name, row.is_lead, row.part)


def intake_record(row: PanelIntake) -> parts.IntakeRecord:
    return parts.IntakeRecord(
        row.substrate, row.painted_on, row.marks, row.acknowledged_by, row.acknowledged_at, row.at
    )


def item_record(row: RemovedItem, panel: str) -> parts.RemovedItemRecord:
    return parts.RemovedItemRecord(
        row.pk, row.panel_work_id, panel, row.name, row.outcome, row.settled_at, row.note
    )


def photo_record(row: Photo) -> parts.PhotoRecord:
    return parts.PhotoRecord(
        id=row.pk,
        stage=row.stage,
        panel_id=row.panel_work_id,
        place_id=row.place_id,
        taken_at=row.taken_at,
        taken_from=row.taken_from,
        added_at=row.added_at,
        sha256=row.sha256,
        width=row.width,
        height=row.height,
        caption=row.caption,
    )


def deviation_record(row: Deviation) -> parts.DeviationRecord:
    return parts.DeviationRecord(
        id=row.pk,
        field=row.field,
        usual=row.usual,
        actual=row.actual,
        reason=row.reason,
        at=row.at,
        member=row.member.name if row.member else "",
        panel_id=row.panel_work_id,
        place_id=row.place_id,
    )
