"""The shop's jobs and findings as two files: always in SI, with offsets, in one order.

Jobs come by `job_ref`, panels in walking order, pieces by number, places in the panel's order; visits by day.
Nothing of it depends on row numbers or units of the shop, so that an export taken in by an empty shop of the
same time zone and exported again is the same file, byte for byte. Plate and holder are those of the day the
job began, in the shop's zone.
"""

import csv
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import IO, Any, Final

from shopwarranty.jobs.models import FieldValue, Job, ShopField
from shopwarranty.shops.models import Shop

from .cells import written
from .finding_columns import FINDING_COLUMNS
from .job_columns import JOB_COLUMNS
from .level_loading import clean_text
from .loading import JobLoader
from .loading_looks import LookLoader
from .own_columns import OwnColumn, basis_header, own_header
from .records import (
    FlatJob,
    FlatPanel,
    FlatPiece,
    FlatPlace,
    OwnValue,
    PanelValues,
    PieceValues,
    PlaceValues,
)
from .vehicles_here import VehiclesHere

JOBS_AT_ONCE: Final = 200
LINE_END: Final = "\r\n"
NO_PANEL: Final = FlatPanel(PanelValues())
NO_PIECE: Final = FlatPiece(PieceValues())
NO_PLACE: Final = FlatPlace(PlaceValues())


@dataclass(frozen=True, slots=True)
class Exported:
    jobs: int
    job_rows: int
    finding_rows: int


def export_jobs(shop: Shop, file: IO[str]) -> tuple[int, int]:
    """Writes the jobs file; open it with newline="". Returns how many jobs and rows."""
    writer = csv.writer(file, lineterminator=LINE_END)
    own, order = own_columns(), _job_order()
    headers = [column.header for column in JOB_COLUMNS]
    headers += [header for column in own for header in (own_header(column), basis_header(column.key))]
    writer.writerow(headers)
    rows = 0
    vehicles = VehiclesHere()
    loader = JobLoader(shop, _first_jobs(order, vehicles), vehicles)
    for chunk in _chunks([pk for _ref, pk, _vehicle in order]):
        for job in loader.load(chunk).values():
            lines = list(_job_lines(job, own))
            writer.writerows(lines)
            rows += len(lines)
    return len(order), rows


def export_findings(file: IO[str]) -> int:
    """Writes the findings file; open it with newline="". Returns how many rows."""
    writer = csv.writer(file, lineterminator=LINE_END)
    writer.writerow([column.header for column in FINDING_COLUMNS])
    rows = 0
    for chunk in _chunks([pk for _ref, pk, _vehicle in _job_order()]):
        looks = LookLoader().load(chunk)
        for pk in chunk:
            for look in looks.get(pk, ()):
                visit = _cells(look.visit.values)
                writer.writerows([*visit, *_cells(finding.values)] for finding in look.visit.findings)
                rows += len(look.visit.findings)
    return rows


def own_columns() -> list[OwnColumn]:
    """The shop's own fields that any job has a value of, by key."""
    used = FieldValue.objects.values_list("field_id", flat=True).distinct()
    return [
        OwnColumn(row.key, row.level, row.kind, clean_text(row.unit), clean_text(row.name))
        for row in ShopField.objects.filter(pk__in=list(used)).order_by("key")
    ]


def _job_order() -> list[tuple[str, int, int]]:
    """Ref, row and vehicle of every job, sorted here: databases sort text each in its own way."""
    return sorted(Job.objects.order_by().values_list("ref", "pk", "vehicle_id"))


def _first_jobs(order: Iterable[tuple[str, int, int]], vehicles: VehiclesHere) -> dict[int, str]:
    """For each vehicle the first of its jobs in the file."""
    rows = list(order)
    for chunk in _chunks([vehicle for _ref, _pk, vehicle in rows]):
        vehicles.load(chunk)
    firsts: dict[int, str] = {}
    for ref, _pk, vehicle in rows:
        firsts.setdefault(vehicles.final(vehicle), clean_text(ref))
    return firsts


def _chunks(pks: Sequence[int]) -> Iterator[Sequence[int]]:
    for first in range(0, len(pks), JOBS_AT_ONCE):
        yield pks[first : first + JOBS_AT_ONCE]


def _job_lines(job: FlatJob, own: Sequence[OwnColumn]) -> Iterator[list[str]]:
    """One line for each place; a part that has none below it has one line of its own."""
    job_cells = _cells(job.values)
    for panel in job.panels or [NO_PANEL]:
        panel_cells = _cells(panel.values)
        for piece in panel.pieces or [NO_PIECE]:
            piece_cells = _cells(piece.values)
            for place in piece.places or [NO_PLACE]:
                said = {value.key: value for value in (*job.own, *panel.own, *place.own)} if own else {}
                yield [*job_cells, *panel_cells, *piece_cells, *_cells(place.values), *_own_cells(said, own)]


def _cells(values: Iterable[Any]) -> list[str]:
    return [written(value) for value in values]


def _own_cells(said: dict[str, OwnValue], own: Sequence[OwnColumn]) -> Iterator[str]:
    for column in own:
        value = said.get(column.key)
        number = column.kind == "number"
        yield "" if value is None else value.value if number else written(value.value)
        yield "" if value is None else value.basis
