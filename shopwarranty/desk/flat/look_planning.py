"""All findings of a file, chunk by chunk: which visits are new, what they saw, which defects that makes."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Final

from django.utils.translation import gettext as _

from shopwarranty.jobs.models import Job
from shopwarranty.shops.models import Shop

from .defect_planning import DefectPlanner, PlaceRef, PlannedDefect, in_order, place_ref
from .finding_rules import FindingRules
from .jobs_here import JobOutline, outlines
from .loading_looks import LookHere, LookLoader
from .look_differences import compare_visit, remedies_of, report_missing_remedies
from .look_grouping import LookGrouper, VisitKey, visit_key
from .place_planning import ALL
from .reading import Sheet
from .records import FlatFinding, FlatLooks, FlatVisit
from .shelf import Shelf

ROWS_AT_ONCE: Final = 4000
JOBS_AT_ONCE: Final = 250
A_DAY: Final = timedelta(days=1)


@dataclass(slots=True)
class PlannedLooks:
    """What is to be written of one job's looks. `job_pk` 0: the job is new, from the same import."""

    ref: str
    outline: JobOutline
    job_pk: int = 0
    visits: list[FlatVisit] = field(default_factory=list)
    defects: list[PlannedDefect] = field(default_factory=list)


@dataclass(slots=True)
class LooksPlan:
    """One pass over the findings file. `in_file`: jobs of the jobs file of the same import."""

    sheet: Sheet
    shop: Shop
    shelf: Shelf
    now: datetime
    in_file: dict[str, JobOutline]
    rows: int = 0
    seen_before: int = 0
    rules: FindingRules = field(init=False)

    def __post_init__(self) -> None:
        self.rules = FindingRules(self.sheet, self.shelf, self.now)

    def chunks(self) -> Iterator[list[PlannedLooks]]:
        gathered: list[FlatLooks] = []
        rows = 0
        for looks in LookGrouper(self.sheet).looks():
            gathered.append(looks)
            rows += looks.rows
            if rows >= ROWS_AT_ONCE or len(gathered) >= JOBS_AT_ONCE:
                yield self._plan(gathered)
                gathered, rows = [], 0
        if gathered:
            yield self._plan(gathered)

    def _plan(self, chunk: list[FlatLooks]) -> list[PlannedLooks]:
        refs = [looks.ref for looks in chunk]
        here = dict(Job.objects.filter(ref__in=refs).values_list("ref", "pk"))
        known = outlines([ref for ref in here if ref not in self.in_file], self.shop.zone)
        visits = LookLoader().load(list(here.values())) if here else {}
        self.rows += sum(looks.rows for looks in chunk)
        planned = []
        for looks in chunk:
            outline = self.in_file.get(looks.ref) or known.get(looks.ref)
            if outline is None:
                problem = _("There is no such job, neither in the jobs file nor here.")
                self.sheet.say(
                    looks.line, "visit", "job_ref", looks.ref, problem, _("Add it, or correct this.")
                )
                continue
            pk = here.get(looks.ref, 0)
            planned.append(_Job(self, looks, outline, pk, visits.get(pk, [])).plan())
        return planned


class _Job:
    """The looks at one job, held against those that are here."""

    def __init__(
        self, plan: LooksPlan, looks: FlatLooks, outline: JobOutline, pk: int, here: list[LookHere]
    ) -> None:
        self.plan_of_all, self.looks, self.outline, self.pk = plan, looks, outline, pk
        self.sheet, self.rules = plan.sheet, plan.rules
        self.here: dict[VisitKey, LookHere] = {visit_key(look.visit.values): look for look in here}
        self.defects = DefectPlanner(plan.sheet)

    def plan(self) -> PlannedLooks:
        visits = [visit for visit in self.looks.visits if self.rules.resolve_visit(visit)]
        for visit in visits:
            self._resolve(visit)
        new = [visit for visit in visits if visit_key(visit.values) not in self.here]
        self._compare([visit for visit in visits if visit_key(visit.values) in self.here])
        self._check_handover_looks(new)
        self._check_later(new)
        self._gather_defects(new)
        self.plan_of_all.seen_before += len(visits) - len(new)
        planned = PlannedLooks(self.looks.ref, self.outline, self.pk, in_order(new))
        planned.defects = self.defects.finish()
        return planned

    def _resolve(self, visit: FlatVisit) -> None:
        on = visit.values.visit_on
        assert on is not None
        fit = [finding for finding in visit.findings if self.rules.resolve(finding, on)]
        visit.findings = [finding for finding in self._spread(fit) if self._is_there(finding, on)]
        self._check_agreement(visit)

    def _spread(self, findings: list[FlatFinding]) -> Iterator[FlatFinding]:
        """`all` becomes every place that no other row of the visit names."""
        if not any(ALL in (each.values.place, each.values.panel) for each in findings):
            yield from findings
            return
        named = {place_ref(finding.values) for finding in findings}
        for finding in findings:
            values = finding.values
            if ALL not in (values.place, values.panel):
                yield finding
                continue
            if values.result == "defect":
                problem = _("A defect is at one place.")
                self._say(finding, "place", values.place, problem, _("Write the key of the place."))
                continue
            for at in self._places(finding):
                if at not in named:
                    named.add(at)
                    yield FlatFinding(values._replace(**at._asdict()), finding.line)

    def _places(self, finding: FlatFinding) -> Iterator[PlaceRef]:
        values = finding.values
        for (panel, piece), keys in self.outline.places.items():
            if values.panel == ALL or (panel, piece) == (values.panel, values.piece):
                yield from (PlaceRef(panel, piece, key) for key in keys)

    def _is_there(self, finding: FlatFinding, on: date) -> bool:
        values = finding.values
        keys = self.outline.places.get((values.panel, values.piece or 1))
        if keys is None or values.place not in keys:
            name = "panel" if keys is None else "place"
            no_piece = _("The job has no such film piece on that panel.")
            problem = no_piece if keys is None else _("The job has no such place on that film piece.")
            self._say(
                finding, name, getattr(values, name), problem, _("Correct it, or add it to the jobs file.")
            )
            return False
        finished = self.outline.finished.get(values.panel)
        if finished and on < finished - A_DAY:
            problem = _("The panel was finished only on %(day)s.") % {"day": finished.isoformat()}
            self._say(finding, "panel", values.panel, problem, _("Correct one of the days."))
        if values.remedy_piece and (values.panel, values.remedy_piece) not in self.outline.places:
            problem = _("There is no such piece on this panel.")
            self._say(finding, "remedy_piece", values.remedy_piece, problem, _("Correct the number."))
        return True

    def _check_agreement(self, visit: FlatVisit) -> None:
        """One place was clean, wrong or not looked at; only a defect may come in several rows."""
        first: dict[PlaceRef, FlatFinding] = {}
        for finding in visit.findings:
            before = first.setdefault(place_ref(finding.values), finding)
            if before is finding or before.values.result == finding.values.result == "defect":
                continue
            problem = _("but line %(line)d speaks of the same place.") % {"line": before.line}
            self._say(finding, "place", finding.values.place, problem, _("Take one of them out."))

    def _compare(self, visits: list[FlatVisit]) -> None:
        for visit in visits:
            compare_visit(self.sheet, visit, self.here[visit_key(visit.values)].visit)
        known = [remedy for look in self.here.values() for remedy in remedies_of(look.visit)]
        report_missing_remedies(self.sheet, visits, known)

    def _check_handover_looks(self, new: list[FlatVisit]) -> None:
        looks = [look.visit for look in self.here.values() if look.visit.values.handover_look]
        looks += [visit for visit in new if visit.values.handover_look]
        if len(looks) > 1 and looks[-1] in new:
            problem = _("There is one look before the vehicle leaves, and this is the second.")
            self._say_visit(looks[-1], "handover_look", problem, _("Write no for one of them."))

    def _check_later(self, new: list[FlatVisit]) -> None:
        """Visits are added after those that are here, never between them: defects were judged one by one."""
        days = [look.visit.values.visit_on for look in self.here.values() if look.visit.values.visit_on]
        last = max(days, default=None)
        for visit in new:
            on = visit.values.visit_on
            if last is not None and on is not None and on < last:
                problem = _("The job that is here was looked at later, on %(day)s.") % {
                    "day": last.isoformat()
                }
                remedy = _("Record this visit on the job's page, or take it out of the file.")
                self._say_visit(visit, "visit_on", problem, remedy)

    def _gather_defects(self, new: list[FlatVisit]) -> None:
        for look in self.here.values():
            for finding, pk in zip(look.visit.findings, look.defects, strict=True):
                if pk:
                    self.defects.take(look.visit, finding, is_here=True, pk=pk)
        for visit in in_order(new):
            for finding in visit.findings:
                if finding.values.result == "defect":
                    self.defects.take(visit, finding, is_here=False)

    def _say(self, finding: FlatFinding, name: str, value: object, problem: str, remedy: str) -> None:
        self.sheet.say(finding.line, "finding", name, value, problem, remedy)

    def _say_visit(self, visit: FlatVisit, name: str, problem: str, remedy: str) -> None:
        self.sheet.say(visit.line, "visit", name, getattr(visit.values, name), problem, remedy)
