"""All jobs of a file, chunk by chunk: each is new and in order, or here already and the same, or at fault."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Final

from django.utils.translation import gettext as _

from shopwarranty.jobs.models import FilmPiece, Job
from shopwarranty.shops.models import Shop

from .differences import Comparer
from .film_planning import PieceRef
from .grouping import JobGrouper
from .holders import PartyBook
from .job_planning import JobPlanner
from .jobs_here import JobOutline
from .loading import JobLoader
from .own_reading import OwnField, OwnReader
from .reading import Sheet
from .records import FlatJob
from .shelf import Shelf

ROWS_AT_ONCE: Final = 4000
JOBS_AT_ONCE: Final = 250


@dataclass(frozen=True, slots=True)
class PlannedJob:
    """`pk` 0: the job is new here."""

    job: FlatJob
    pk: int


@dataclass(slots=True)
class JobsPlan:
    """One pass over the jobs file. `shelf` grows by what the file names."""

    sheet: Sheet
    shop: Shop
    shelf: Shelf
    now: datetime
    parties: PartyBook = field(default_factory=PartyBook)
    index: dict[str, JobOutline] = field(default_factory=dict)
    here: dict[str, int] = field(default_factory=dict)
    rows: int = 0
    shared_places: dict[tuple[str, ...], tuple[str, ...]] = field(default_factory=dict)
    planner: JobPlanner = field(init=False)
    own: OwnReader = field(init=False)

    def __post_init__(self) -> None:
        self.planner = JobPlanner.of(self.sheet, self.shelf, self.now)
        self.own = OwnReader(self.sheet, self._own_fields())

    def chunks(self) -> Iterator[list[PlannedJob]]:
        """Every job that could be planned, in the order of the file. Faults gather in the sheet."""
        gathered: list[FlatJob] = []
        rows = 0
        for job in JobGrouper(self.sheet, self.own).jobs():
            gathered.append(job)
            rows += job.rows
            if rows >= ROWS_AT_ONCE or len(gathered) >= JOBS_AT_ONCE:
                yield self._plan(gathered)
                gathered, rows = [], 0
        if gathered:
            yield self._plan(gathered)
        self._check_replaced()

    def _own_fields(self) -> dict[str, OwnField]:
        fields: dict[str, OwnField] = {}
        for bound in self.sheet.own:
            known = self.shelf.field(bound.own)
            if known is None:
                problem = _("The shop has no such field.")
                remedy = _("Add it under Methods, or write field:key:level:kind:unit:name in the header.")
                self.sheet.faults.add(self.sheet.name, 1, bound.header, "", problem, remedy)
            elif bound.own.level not in ("", known.own.level) or bound.own.kind not in ("", known.own.kind):
                problem = _("but this field is %(level)s:%(kind)s here.")
                words = problem % {"level": known.own.level, "kind": known.own.kind}
                self.sheet.faults.add(self.sheet.name, 1, bound.header, "", words, _("Correct the header."))
            fields[bound.own.key] = known.own if known else OwnField(bound.own.key, "", "")
        return fields

    def _plan(self, jobs: list[FlatJob]) -> list[PlannedJob]:
        for job in jobs:
            self.planner.tidy(job)
        refs = [job.ref for job in jobs if job.ref]
        here = dict(Job.objects.filter(ref__in=refs).values_list("ref", "pk"))
        self.here.update(here)
        self.planner.vehicles.prepare(jobs, here)
        self.parties.prepare(job.values for job in jobs)
        planned = [
            PlannedJob(job, here.get(job.ref, 0)) for job in jobs if self._plan_one(job, job.ref in here)
        ]
        self._compare([each for each in planned if each.pk])
        self.rows += sum(job.rows for job in jobs)
        return planned

    def _plan_one(self, job: FlatJob, is_here: bool) -> bool:
        """A job that is here already goes on only without any fault of its own: it is compared next."""
        before = self.sheet.faults.count
        planned = bool(job.ref) and self.planner.plan(job, is_here=is_here)
        self.index[job.ref] = self._outline(job)
        return planned and not (is_here and self.sheet.faults.count > before)

    def _outline(self, job: FlatJob) -> JobOutline:
        zone = self.shop.zone
        places: dict[tuple[str, int], tuple[str, ...]] = {}
        finished: dict[str, date | None] = {}
        replaced: dict[tuple[str, int], int] = {}
        for panel in job.panels:
            key, at = panel.values.panel, panel.values.finished_at
            finished[key] = at.astimezone(zone).date() if at else None
            for piece in panel.pieces:
                keys = tuple(place.values.place for place in piece.places)
                places[key, piece.number] = self.shared_places.setdefault(keys, keys)
                if piece.values.replaces_piece and not piece.values.replaces_job:
                    replaced[key, piece.number] = piece.values.replaces_piece
        return JobOutline(job.values.body_style, places, finished, replaced)

    def _compare(self, planned: list[PlannedJob]) -> None:
        if not planned:
            return
        loader = JobLoader(self.shop, {}, self.planner.vehicles.here)
        known, comparer = loader.load([each.pk for each in planned]), Comparer(self.sheet)
        for each in planned:
            comparer.compare(each.job, known[each.pk])

    def _check_replaced(self) -> None:
        """Pieces that others took the place of must be in the file or here."""
        for replacement in self.planner.panels.film.replacements:
            if not self._has(replacement.replaced):
                problem = _("There is no such piece on that panel of that job.")
                remedy = _("Correct the number or the job, or empty the cell.")
                self.sheet.say(
                    replacement.line,
                    "piece",
                    "replaces_piece",
                    replacement.replaced.number,
                    problem,
                    remedy,
                )

    def _has(self, wanted: PieceRef) -> bool:
        in_file = self.index.get(wanted.job_ref)
        if in_file is not None:
            return (wanted.panel, wanted.number) in in_file.places
        rows = FilmPiece.objects.filter(panel_work__job__ref=wanted.job_ref, panel_work__panel=wanted.panel)
        return rows.filter(number=wanted.number).exists()
