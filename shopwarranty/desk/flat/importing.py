"""Two files into the shop as history: all is written or nothing, after everything was checked."""

import hashlib
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Final

from django.db import IntegrityError, transaction

from shopwarranty.defects.lives import rebuild_lives
from shopwarranty.inspections.actions import plan_checks
from shopwarranty.inspections.models import Check
from shopwarranty.jobs.models import FilmPiece, Job
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Shop

from .checking import Checked, Files, Outlook, Progress, check, open_files
from .faults import FilesRefused
from .film_planning import PieceRef, Replacement
from .look_planning import LooksPlan
from .look_writing import LookWriter
from .planning import JobsPlan
from .shelf_writing import write_shelf
from .tables import Tables
from .writing import JobWriter, Source

BLOCK: Final = 1 << 20
AT_ONCE: Final = 500
WRITING, LIVES, CHECKS = "writing", "lives", "checks"


class ChangedMeanwhile(Exception):
    """Somebody wrote what these files name as well, between checking and writing; nothing was written."""


def check_files(*, files: Files, shop: Shop, now: datetime, progress: Progress | None = None) -> Outlook:
    """Reads everything and writes nothing. Faults stand in the outlook."""
    return check(files, shop, now, progress or silent).outlook


def import_files(
    *,
    files: Files,
    shop: Shop,
    actor: Actor,
    now: datetime,
    with_checks: bool = False,
    progress: Progress | None = None,
) -> Outlook:
    """Takes the files in: no messages, no certificates, and no checks unless asked for.

    Raises FilesRefused with every fault, or ChangedMeanwhile; then nothing was written.
    """
    say = progress or silent
    checked = check(files, shop, now, say)
    if checked.outlook.faults:
        raise FilesRefused(checked.outlook.faults)
    if checked.outlook.changes_nothing:
        return checked.outlook
    writing = _Writing(files, shop, actor, now, checked, say)
    try:
        with transaction.atomic():
            writing.write(with_checks=with_checks)
    except IntegrityError as error:
        if "unique" not in str(error).lower():
            raise
        raise ChangedMeanwhile(str(error)) from error
    return checked.outlook


def silent(stage: str, rows: int) -> None:
    """Progress nobody wants to hear of."""


@dataclass(slots=True)
class _Writing:
    """The second reading. What was checked is planned anew on what is in the database now."""

    files: Files
    shop: Shop
    actor: Actor
    now: datetime
    checked: Checked
    progress: Progress
    tables: Tables = field(default_factory=Tables)

    def write(self, *, with_checks: bool) -> None:
        write_shelf(self.checked.shelf, self.checked.words, self.tables, self.now)
        jobs_sheet, looks_sheet = open_files(self.files, self.shop)
        jobs = JobsPlan(jobs_sheet, self.shop, self.checked.shelf, self.now)
        new = self._write_jobs(jobs)
        _refuse(jobs)
        self.tables.tell_planner()
        touched = list(new)
        if looks_sheet:
            looks = LooksPlan(looks_sheet, self.shop, self.checked.shelf, self.now, jobs.index)
            touched += self._write_looks(looks, jobs.rows)
            _refuse(looks)
            self.tables.tell_planner()
        self.progress(LIVES, len(touched))
        rebuild_lives(touched)
        if with_checks:
            self._plan_checks(new)

    def _write_jobs(self, jobs: JobsPlan) -> list[int]:
        writer = JobWriter(jobs, self.tables, self._source(self.files.jobs, self.files.jobs_name))
        for planned in jobs.chunks():
            writer.write(planned)
            self.progress(WRITING, jobs.rows)
        tie_replacements(jobs.planner.panels.film.replacements)
        return writer.job_ids

    def _write_looks(self, looks: LooksPlan, before: int) -> list[int]:
        assert self.files.findings is not None
        writer = LookWriter(looks, self.tables, self._source(self.files.findings, self.files.findings_name))
        for planned in looks.chunks():
            writer.write(planned)
            self.progress(WRITING, before + looks.rows)
        return writer.job_ids

    def _plan_checks(self, job_ids: list[int]) -> None:
        """Those whose window has not closed yet; what lies behind is history."""
        today = self.now.astimezone(self.shop.zone).date()
        for first in range(0, len(job_ids), AT_ONCE):
            chunk = job_ids[first : first + AT_ONCE]
            left = Check.objects.filter(job__in=chunk, state=Check.State.WAIVED, due_on__gte=today)
            left.update(state=Check.State.DUE, state_why="", settled_at=None)
            rows = Job.objects.filter(pk__in=chunk, handed_over_on__isnull=False)
            for job in rows.order_by("pk"):
                on = job.handed_over_on
                assert on is not None
                planned = plan_checks(job=job, handed_over_on=on, now=self.now, not_before=today)
                self.checked.outlook.checks_planned += sum(check.state == "due" for check in planned)
            self.progress(CHECKS, min(first + AT_ONCE, len(job_ids)))

    def _source(self, path: Path, name: str) -> Source:
        return Source(self.actor, self.now, name, sha256_of(path))


def _refuse(plan: JobsPlan | LooksPlan) -> None:
    """The shop changed after the check, or the file did."""
    if plan.sheet.faults:
        raise FilesRefused(plan.sheet.faults)


def tie_replacements(replacements: list[Replacement]) -> None:
    """Which piece took whose place, once all pieces are there."""
    for first in range(0, len(replacements), AT_ONCE):
        chunk = replacements[first : first + AT_ONCE]
        refs = {ref.job_ref for each in chunk for ref in (each.piece, each.replaced)}
        rows = FilmPiece.objects.filter(panel_work__job__ref__in=refs)
        names = ("panel_work__job__ref", "panel_work__panel", "number")
        pks = {PieceRef(*ref): pk for pk, *ref in rows.values_list("pk", *names)}
        for each in chunk:
            fresh = FilmPiece.objects.filter(pk=pks[each.piece], replaces__isnull=True)
            fresh.update(replaces_id=pks[each.replaced])


def sha256_of(path: Path) -> str:
    digest = hashlib.sha256()
    with path.open("rb") as file:
        while block := file.read(BLOCK):
            digest.update(block)
    return digest.hexdigest()
