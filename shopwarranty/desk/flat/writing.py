"""Jobs of a file as rows. Rows only: whoever calls owns the transaction and has checked everything."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from operator import attrgetter
from typing import Any, Final

from shopwarranty.films.models import Cut
from shopwarranty.jobs.models import (
    FieldValue,
    FilmPiece,
    Job,
    LayingEvent,
    PanelIntake,
    PanelMember,
    PanelWork,
    Place,
    Reading,
    RemovedItem,
)
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Change
from shopwarranty.trade import catalogue

from .doubts import typed_text
from .laying import event_parts
from .level_reading import MOST_KEPT
from .order import AFTER, panel_place_in_line
from .planning import JobsPlan, PlannedJob
from .records import FlatJob, FlatPanel, FlatPiece, FlatPlace, OwnValue, PanelValues, PieceValues, PlaceValues
from .shelf import lot_key
from .tables import JOB_TECHNIQUE, PANEL_TECHNIQUE, PLACE_TECHNIQUE, Tables
from .vehicle_writing import VehicleWriter

job_technique: Final = attrgetter(*JOB_TECHNIQUE)
panel_technique: Final = attrgetter(*PANEL_TECHNIQUE)
place_technique: Final = attrgetter(*PLACE_TECHNIQUE)
INTAKE: Final = attrgetter("substrate", "painted_on", "old_marks", "marks_shown_at", "marks_shown_to")


@dataclass(frozen=True, slots=True)
class Source:
    """Where rows come from: who brings them, when, in which file."""

    actor: Actor
    now: datetime
    file: str
    sha256: str


@dataclass(slots=True)
class JobWriter:
    plan: JobsPlan
    tables: Tables
    source: Source
    job_ids: list[int] = field(default_factory=list)
    tails: dict[PlaceValues, tuple[Any, ...]] = field(default_factory=dict)
    vehicles: VehicleWriter = field(init=False)

    def __post_init__(self) -> None:
        self.vehicles = VehicleWriter(self.plan.parties, self.tables, self.source.actor, self.source.now)

    def write(self, planned: Iterable[PlannedJob]) -> None:
        """One chunk. Jobs that are here already are passed over."""
        new = [each.job for each in planned if not each.pk]
        book = self.plan.planner.vehicles
        self.vehicles.write([book.of_job[job.ref] for job in new])
        for job in new:
            self._write_job(job)
        self.tables.flush()

    def _write_job(self, job: FlatJob) -> None:
        values = job.values
        version = (
            self.plan.shelf.versions[values.method, values.method_version or 1] if values.method else None
        )
        pk = self.tables[Job].add(
            values.job_ref,
            self.plan.planner.vehicles.of_job[job.ref].pk,
            values.job_kind,
            version.pk if version else None,
            values.no_method_reason,
            values.job_state,
            values.planned_handover_on,
            values.handed_over_at,
            values.handed_over_on,
            values.quoted_months,
            values.confirmed_at,
            values.makers_procedure,
            values.sensors_clear,
            values.blades_returned,
            values.job_note,
            self.source.now,
            values.started_at,
            values.entered_at or self.source.now,
            *job_technique(values),
        )
        self.job_ids.append(pk)
        self._write_own(job.own, job_id=pk)
        self._write_history(pk, job)
        beyond = len(catalogue.panel_keys(values.body_style))
        for order, panel in enumerate(job.panels):
            walk = panel_place_in_line(values.body_style, panel.values.panel)
            self._write_panel(pk, job, panel, walk if walk < AFTER else beyond + order)

    def _write_history(self, pk: int, job: FlatJob) -> None:
        source = self.source
        member, device = source.actor.member, source.actor.device
        after = {"ref": job.ref, "file": source.file, "sha256": source.sha256, "line": job.line}
        self.tables[Change].add(
            source.now,
            member.pk if member else None,
            device.pk if device else None,
            source.actor.who,
            "job imported",
            Job._meta.db_table,
            pk,
            after,
        )

    def _write_panel(self, job_id: int, job: FlatJob, panel: FlatPanel, walk: int) -> None:
        values = panel.values
        pk = self.tables[PanelWork].add(
            job_id,
            values.panel,
            walk,
            values.confirmed_at,
            values.finished_at,
            values.removed_on,
            values.removed_why,
            values.panel_note,
            self._typed("forming_heat_c", values.forming_heat_c),
            *panel_technique(values),
        )
        self._write_own(panel.own, panel_work_id=pk)
        self._write_beside(job_id, job, pk, values)
        pieces = {piece.number: self._write_piece(pk, piece.values) for piece in panel.pieces}
        for piece in panel.pieces:
            self._write_places(pk, piece, pieces)

    def _write_beside(self, job_id: int, job: FlatJob, pk: int, values: PanelValues) -> None:
        intake = INTAKE(values)
        if any(intake):
            self.tables[PanelIntake].add(pk, *intake, values.marks_shown_at or job.values.started_at)
        people = self.plan.shelf.people
        if values.installer:
            self.tables[PanelMember].add(pk, people[values.installer].pk, True, values.installer_part)
        for other in values.other_installers:
            self.tables[PanelMember].add(pk, people[other.head].pk, False, other.note)
        for item in values.removed_items:
            settled = values.finished_at if item.note else None
            self.tables[RemovedItem].add(pk, item.head, item.note, settled)
        for event in values.laying_events:
            self.tables[LayingEvent].add(pk, None, *event_parts(event), event.note)
        if values.measured_at:
            self._write_reading(job_id, job, pk, values)

    def _write_reading(self, job_id: int, job: FlatJob, pk: int, values: PanelValues) -> None:
        self.tables[Reading].add(
            job_id,
            pk,
            values.measured_at,
            values.air_c,
            values.air_c_basis,
            self._typed("air_c", values.air_c),
            values.surface_c,
            values.surface_c_basis,
            self._typed("surface_c", values.surface_c),
            values.humidity,
            values.humidity_basis,
            values.instrument,
            job.values.entered_at or self.source.now,
        )

    def _write_piece(self, panel_id: int, values: PieceValues) -> int:
        shelf = self.plan.shelf
        film = shelf.films[values.film_maker, values.film] if values.film else None
        lot = shelf.lots.get(lot_key(film, values.lot)) if film and not values.lot_unknown_reason else None
        roll = shelf.rolls[values.roll].pk if values.roll else None
        cut = None
        if values.cut_along is not None:
            size = (values.cut_along, values.cut_across, values.cut_off_roll, values.long_side_across)
            cut = self.tables[Cut].add(roll, Cut.Kind.PIECE.value, *size, values.cut_at)
        return self.tables[FilmPiece].add(
            panel_id,
            values.piece,
            values.layer,
            values.piece_name,
            film.pk if film else None,
            lot.pk if lot else None,
            values.lot_unknown_reason,
            roll,
            cut,
            values.supplied_by_owner,
            values.ended_on,
            values.ended_why,
        )

    def _write_places(self, panel_id: int, piece: FlatPiece, pieces: dict[int, int]) -> None:
        add, piece_id = self.tables[Place].add, pieces[piece.number]
        for walk, place in enumerate(piece.places):
            values = place.values
            tail = self.tails.get(values)
            if tail is None:
                tail = self._tail(values)
                if len(self.tails) < MOST_KEPT:
                    self.tails[values] = tail
            other = pieces.get(values.meets_piece) if values.meets_piece else None
            pk = add(piece_id, walk, other, *tail)
            if values.laying_events or place.own:
                self._write_beside_place(panel_id, pk, place)

    def _tail(self, values: PlaceValues) -> tuple[Any, ...]:
        return (
            values.place,
            values.place_kind,
            values.place_name,
            values.added_on,
            self._typed("post_heat_c", values.post_heat_c),
            self._typed("wrap_in_reached_mm", values.wrap_in_reached_mm),
            *place_technique(values),
        )

    def _write_beside_place(self, panel_id: int, pk: int, place: FlatPlace) -> None:
        for event in place.values.laying_events:
            self.tables[LayingEvent].add(panel_id, pk, *event_parts(event), event.note)
        self._write_own(place.own, place_id=pk)

    def _write_own(
        self,
        own: Iterable[OwnValue],
        job_id: int | None = None,
        panel_work_id: int | None = None,
        place_id: int | None = None,
    ) -> None:
        for value in own:
            field_id = self.plan.shelf.fields[value.key].pk
            owners = (job_id, panel_work_id, place_id)
            self.tables[FieldValue].add(field_id, *owners, value.value, value.basis)

    def _typed(self, name: str, stored: float | None) -> str:
        """Number and unit as the file has them."""
        return "" if stored is None else typed_text(stored, self.plan.sheet.unit_of(name))
