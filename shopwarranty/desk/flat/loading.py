"""Jobs of the shop as the flat files say them. A fixed number of queries for each chunk of jobs."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Final

from django.db.models import Q

from shopwarranty.jobs.models import FieldValue, FilmPiece, Job, PanelWork, Place, ShopPanel
from shopwarranty.shops.models import Shop

from .columns import Level
from .film_planning import UNKNOWN
from .holders import with_holder
from .level_loading import ELSEWHERE, LevelLoader, clean_text
from .loading_panels import PANEL_PATHS, BesidePanels
from .order import AFTER, known_places, panel_place_in_line, place_rank
from .records import (
    FlatJob,
    FlatPanel,
    FlatPiece,
    FlatPlace,
    JobValues,
    OwnValue,
    PanelValues,
    PieceValues,
    PlaceValues,
)
from .vehicles_here import VehiclesHere

ABOUT_VEHICLE: Final = JobValues._fields[JobValues._fields.index("vehicle_first_job") :]
JOB_PATHS: Final = {
    "job_ref": "ref",
    "job_kind": "kind",
    "job_state": "state",
    "job_note": "note",
    "method": "method_version__method__name",
    "method_version": "method_version__number",
    **dict.fromkeys(ABOUT_VEHICLE, ELSEWHERE),
}
PIECE_PATHS: Final = {
    "piece": "number",
    "piece_name": "name",
    "film_maker": "product__maker",
    "film": "product__name",
    "film_family": "product__family",
    "lot": "lot__number",
    "roll": "roll__label",
    "cut_along": "cut__along_mm",
    "cut_across": "cut__across_mm",
    "cut_off_roll": "cut__off_roll_mm",
    "cut_at": "cut__cut_at",
    "long_side_across": "cut__long_side_across",
    "replaces_piece": "replaces__number",
    "replaces_job": "replaces__panel_work__job__ref",
}
PLACE_PATHS: Final = {
    "place": "key",
    "place_kind": "kind",
    "place_name": "name",
    "meets_piece": "other_piece__number",
    "laying_events": ELSEWHERE,
}


class JobLoader:
    """`firsts`: for each vehicle the ref of its first job."""

    def __init__(self, shop: Shop, firsts: Mapping[int, str], vehicles: VehiclesHere) -> None:
        self.zone, self.firsts, self.vehicles = shop.zone, firsts, vehicles
        self.job_values = LevelLoader(Level.JOB, JobValues, JOB_PATHS)
        self.panel_values = LevelLoader(Level.PANEL, PanelValues, PANEL_PATHS)
        self.piece_values = LevelLoader(Level.PIECE, PieceValues, PIECE_PATHS)
        self.place_values = LevelLoader(Level.PLACE, PlaceValues, PLACE_PATHS)
        self.own_panels = {row.key: row for row in ShopPanel.objects.all()}

    def load(self, job_ids: Sequence[int]) -> dict[int, FlatJob]:
        """By row, in the order of `job_ids`; panels, pieces and places in the order of the file."""
        rows = Job.objects.filter(pk__in=job_ids).values_list("pk", "vehicle_id", *self.job_values.paths)
        found = {pk: (vehicle_id, self.job_values.values(tuple(raw))) for pk, vehicle_id, *raw in rows}
        self.vehicles.load({vehicle_id for vehicle_id, _values in found.values()})
        chunk = _Chunk(job_ids, self)
        return {pk: self._job(pk, *found[pk], chunk) for pk in job_ids}

    def _job(self, pk: int, vehicle_id: int, values: JobValues, chunk: "_Chunk") -> FlatJob:
        assert values.started_at is not None
        values = self._with_vehicle(values, vehicle_id, values.started_at)
        panels = chunk.panels_of(pk, values.body_style)
        return FlatJob(values, chunk.own_of["job_id"][pk], panels)

    def _with_vehicle(self, values: JobValues, vehicle_id: int, started: datetime) -> JobValues:
        vehicle, day = self.vehicles.of(vehicle_id), started.astimezone(self.zone).date()
        values = values._replace(
            vehicle_first_job=self.firsts.get(self.vehicles.final(vehicle_id), ""), **vehicle.known
        )
        plate, holding = vehicle.plates.stretch_at(day), vehicle.holders.stretch_at(day)
        if plate:
            values = values._replace(plate=plate.item, plate_since=plate.since)
        if holding:
            values = with_holder(values, holding.item)._replace(holder_since=holding.since)
        return values


class _Chunk:
    """The rows of these jobs by what they belong to."""

    def __init__(self, job_ids: Sequence[int], loader: JobLoader) -> None:
        self.loader = loader
        self.beside = BesidePanels(job_ids, loader.zone)
        self.places: dict[int, list[tuple[int, int, PlaceValues]]] = defaultdict(list)
        self.pieces: dict[int, list[tuple[int, PieceValues]]] = defaultdict(list)
        self.panels: dict[int, list[tuple[int, int, datetime | None, PanelValues]]] = defaultdict(list)
        self._read_panels(job_ids)
        self._read_pieces()
        self._read_places()
        self.own_of = self._own_values(job_ids)

    def _read_places(self) -> None:
        make = self.loader.place_values
        pieces = [pk for rows in self.pieces.values() for pk, _values in rows]
        rows = Place.objects.filter(piece__in=pieces).order_by("walk", "pk")
        for pk, piece_id, walk, *raw in rows.values_list("pk", "piece_id", "walk", *make.paths):
            self.places[piece_id].append((pk, walk, make.values(tuple(raw))))

    def _read_pieces(self) -> None:
        make = self.loader.piece_values
        panels = [row[0] for rows in self.panels.values() for row in rows]
        rows = FilmPiece.objects.filter(panel_work__in=panels).order_by("number", "pk")
        names = (
            "pk",
            "panel_work_id",
            "panel_work__job__ref",
            "panel_work__panel",
            "replaces__panel_work__panel",
        )
        for pk, panel_id, ref, panel, replaced_panel, *raw in rows.values_list(*names, *make.paths):
            values = _tidied(make.values(tuple(raw)), clean_text(ref), panel == replaced_panel)
            self.pieces[panel_id].append((pk, values))

    def _read_panels(self, job_ids: Sequence[int]) -> None:
        make = self.loader.panel_values
        rows = PanelWork.objects.filter(job__in=job_ids).order_by("walk", "panel")
        for pk, job_id, walk, finished, *raw in rows.values_list(
            "pk", "job_id", "walk", "finished_at", *make.paths
        ):
            self.panels[job_id].append((pk, walk, finished, make.values(tuple(raw))))

    def _own_values(self, job_ids: Sequence[int]) -> dict[str, dict[int, tuple[OwnValue, ...]]]:
        """By job, panel and place."""
        owned = {
            "job_id": Q(job__in=job_ids),
            "panel_work_id": Q(panel_work__in=[row[0] for rows in self.panels.values() for row in rows]),
            "place_id": Q(place__piece__in=[pk for rows in self.pieces.values() for pk, _values in rows]),
        }
        found: dict[str, dict[int, tuple[OwnValue, ...]]] = {}
        for owner, of_chunk in owned.items():
            values: dict[int, list[OwnValue]] = defaultdict(list)
            rows = FieldValue.objects.filter(of_chunk)
            for pk, key, value, basis in rows.values_list(owner, "field__key", "value", "basis"):
                values[pk].append(OwnValue(key, clean_text(value), basis))
            found[owner] = defaultdict(tuple, {pk: tuple(sorted(own)) for pk, own in values.items()})
        return found

    def panels_of(self, job_id: int, body: str) -> list[FlatPanel]:
        rows = sorted(
            self.panels[job_id],
            key=lambda row: (panel_place_in_line(body, row[3].panel), row[1], row[3].panel),
        )
        return [self._panel(job_id, body, pk, finished, values) for pk, _walk, finished, values in rows]

    def _panel(
        self, job_id: int, body: str, pk: int, finished: datetime | None, values: PanelValues
    ) -> FlatPanel:
        values = self.beside.complete(job_id, pk, values, finished)
        own = self.loader.own_panels.get(values.panel)
        if panel_place_in_line(body, values.panel) == AFTER and not known_places(body, values.panel):
            values = values._replace(panel_name=clean_text(own.name) if own else values.panel)
        edges = [str(name) for name in own.edges] if own else []
        pieces = [
            FlatPiece(piece, self._places(piece_pk, body, values.panel, edges))
            for piece_pk, piece in self.pieces[pk]
        ]
        return FlatPanel(values, self.own_of["panel_work_id"][pk], pieces)

    def _places(self, piece_pk: int, body: str, panel: str, edges: Sequence[str]) -> list[FlatPlace]:
        rows = sorted(
            self.places[piece_pk],
            key=lambda row: (place_rank(body, panel, row[2].place, row[2].place_kind), row[1], row[2].place),
        )
        return [self._place(pk, values, edges) for pk, _walk, values in rows]

    def _place(self, pk: int, values: PlaceValues, edges: Sequence[str]) -> FlatPlace:
        if edges and not values.place_name:
            values = values._replace(place_name=_edge_name(values.place, edges))
        if pk in self.beside.place_events:
            values = values._replace(laying_events=tuple(self.beside.place_events[pk]))
        return FlatPlace(values, self.own_of["place_id"][pk])


def _edge_name(key: str, edges: Sequence[str]) -> str:
    """The name that a panel of the shop's own has for its edge."""
    number = key.removeprefix("edge-")
    if key == number or not number.isdecimal() or not 0 < int(number) <= len(edges):
        return ""
    return edges[int(number) - 1].strip()


def _tidied(values: PieceValues, ref: str, same_panel: bool) -> PieceValues:
    """An unknown lot by that word; what a piece replaces only where a file can say it."""
    if values.lot.casefold() == UNKNOWN or (not values.lot and values.lot_unknown_reason):
        values = values._replace(lot=UNKNOWN, lot_unknown_reason=values.lot_unknown_reason or "other")
    if values.replaces_piece is not None and not same_panel:
        return values._replace(replaces_piece=None, replaces_job="")
    return values._replace(replaces_job="") if values.replaces_job == ref else values
