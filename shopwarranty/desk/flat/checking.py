"""The first reading of two files: everything is looked at, nothing is written."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Final

from shopwarranty.shops.models import Shop

from .faults import Faults, FilesRefused
from .finding_columns import FINDING_COLUMNS
from .job_columns import JOB_COLUMNS
from .look_planning import LooksPlan, PlannedLooks
from .planning import JobsPlan, PlannedJob
from .reading import Sheet, open_sheet
from .shelf import Shelf

Progress = Callable[[str, int], None]
CHECKING: Final = "checking"
NAMED_BY: Final = {
    "people": "name",
    "methods": "name",
    "films": "name",
    "lots": "number",
    "rolls": "label",
    "fields": "own",
    "panels": "name",
    "kinds": "name",
}


@dataclass(frozen=True, slots=True)
class Files:
    """The paths, and how faults call them."""

    jobs: Path
    findings: Path | None = None
    jobs_name: str = "jobs.csv"
    findings_name: str = "findings.csv"


@dataclass(slots=True)
class Outlook:
    """What an import of these files does, or did. `new`: names the shop does not have, by what they are."""

    job_rows: int = 0
    finding_rows: int = 0
    jobs_new: int = 0
    jobs_here: int = 0
    panels: int = 0
    places: int = 0
    visits_new: int = 0
    visits_here: int = 0
    defects_new: int = 0
    checks_planned: int = 0
    new: dict[str, list[str]] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    faults: Faults = field(default_factory=Faults)

    @property
    def rows(self) -> int:
        return self.job_rows + self.finding_rows

    @property
    def changes_nothing(self) -> bool:
        return self.jobs_new == 0 and self.visits_new == 0


@dataclass(slots=True)
class Checked:
    """The outlook with what writing goes on from. `words`: what the files say in own fields of a choice."""

    outlook: Outlook
    shelf: Shelf
    words: dict[str, set[str]] = field(default_factory=dict)


def check(files: Files, shop: Shop, now: datetime, progress: Progress) -> Checked:
    checked = Checked(Outlook(), Shelf(shop))
    try:
        jobs_sheet, looks_sheet = open_files(files, shop)
    except FilesRefused as refused:
        checked.outlook.faults = refused.faults
        return checked
    jobs = JobsPlan(jobs_sheet, shop, checked.shelf, now)
    for planned in jobs.chunks():
        _count_jobs(checked.outlook, planned)
        progress(CHECKING, jobs.rows)
    checked.words = jobs.own.words
    checked.outlook.job_rows = jobs.rows
    if looks_sheet:
        looks = LooksPlan(looks_sheet, shop, checked.shelf, now, jobs.index)
        for found in looks.chunks():
            _count_looks(checked.outlook, found)
            progress(CHECKING, jobs.rows + looks.rows)
        checked.outlook.finding_rows, checked.outlook.visits_here = looks.rows, looks.seen_before
    _sum_up(checked, [sheet for sheet in (jobs_sheet, looks_sheet) if sheet])
    return checked


def open_files(files: Files, shop: Shop) -> tuple[Sheet, Sheet | None]:
    """Reads both headers. Raises FilesRefused."""
    jobs = open_sheet(files.jobs, files.jobs_name, JOB_COLUMNS, shop.zone)
    if files.findings is None:
        return jobs, None
    return jobs, open_sheet(files.findings, files.findings_name, FINDING_COLUMNS, shop.zone)


def _count_jobs(outlook: Outlook, planned: Iterable[PlannedJob]) -> None:
    for each in planned:
        if each.pk:
            outlook.jobs_here += 1
            continue
        outlook.jobs_new += 1
        outlook.panels += len(each.job.panels)
        outlook.places += sum(len(piece.places) for panel in each.job.panels for piece in panel.pieces)


def _count_looks(outlook: Outlook, planned: Iterable[PlannedLooks]) -> None:
    for each in planned:
        outlook.visits_new += len(each.visits)
        outlook.defects_new += sum(not defect.pk for defect in each.defects)


def _sum_up(checked: Checked, sheets: list[Sheet]) -> None:
    outlook = checked.outlook
    for sheet in sheets:
        outlook.faults.take(sheet.faults)
        outlook.notes += sheet.notes.lines()
    for what, ones in checked.shelf.new().items():
        if ones and what in NAMED_BY:
            outlook.new[what] = sorted(str(getattr(one, NAMED_BY[what])) for one in ones)
