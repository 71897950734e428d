"""Looks of a file as rows: visits, findings, defects with their sightings, remedies."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from typing import Final

from django.db.models import F
from django.utils.translation import gettext_lazy

from shopwarranty.defects.actions.sightings import SERIES
from shopwarranty.defects.models import Defect, Remedy, Sighting
from shopwarranty.inspections.models import Check, Finding, Visit
from shopwarranty.jobs.models import Job
from shopwarranty.shops.models import Counter

from .cells import noon
from .defect_planning import PlaceRef, PlannedDefect, Sighted, Spot, place_ref
from .film_of_jobs import FilmOfJobs
from .look_planning import LooksPlan, PlannedLooks
from .records import FindingValues, FlatVisit
from .tables import Tables
from .writing import Source

IMPORTED: Final = Finding.Said.IMPORTED.value
NOT_PLANNED_HERE: Final = gettext_lazy("Imported; not planned here.")


@dataclass(slots=True)
class LookWriter:
    plan: LooksPlan
    tables: Tables
    source: Source
    job_ids: list[int] = field(default_factory=list)
    places: dict[tuple[int, PlaceRef], int] = field(default_factory=dict)
    pieces: dict[tuple[int, str, int], int] = field(default_factory=dict)
    visits: dict[int, int] = field(default_factory=dict)
    findings: dict[tuple[int, PlaceRef], int] = field(default_factory=dict)
    numbers: int = 0

    def write(self, planned: Iterable[PlannedLooks]) -> None:
        """One chunk; its jobs are in the database."""
        looks = [each for each in planned if each.visits]
        jobs = dict(Job.objects.filter(ref__in=[each.ref for each in looks]).values_list("ref", "pk"))
        self._read_places(list(jobs.values()))
        self.visits, self.findings = {}, {}
        self._take_numbers(sum(not defect.pk for each in looks for defect in each.defects))
        for each in looks:
            self._write_looks(jobs[each.ref], each)
        self.tables.flush()

    def _read_places(self, job_ids: list[int]) -> None:
        film = FilmOfJobs.read(job_ids)
        self.places = {
            (at.job_id, PlaceRef(at.panel, at.piece, at.place)): pk for pk, at in film.places.items()
        }
        self.pieces = {(at.job_id, at.panel, at.number): pk for pk, at in film.pieces.items()}

    def _take_numbers(self, wanted: int) -> None:
        """The next numbers of the series that defects found by hand get theirs from."""
        counter, _made = Counter.objects.get_or_create(series=SERIES)
        Counter.objects.filter(pk=counter.pk).update(last=F("last") + wanted)
        counter.refresh_from_db(fields=["last"])
        self.numbers = counter.last - wanted

    def _write_looks(self, job_id: int, looks: PlannedLooks) -> None:
        self.job_ids.append(job_id)
        checks: dict[tuple[str, date], int] = {}
        for visit in looks.visits:
            self._write_visit(job_id, visit, checks)
        by_spot: dict[Spot, list[PlannedDefect]] = {}
        for defect in looks.defects:
            by_spot.setdefault(defect.spot, []).append(defect)
            self._write_defect(job_id, defect, self._before(defect, by_spot, looks))

    def _before(
        self, defect: PlannedDefect, by_spot: dict[Spot, list[PlannedDefect]], looks: PlannedLooks
    ) -> int | None:
        """The defect it came again of: there, or at the same place of the piece that lay there before."""
        if defect.number > 1:
            return by_spot[defect.spot][defect.number - 2].pk
        at = defect.spot.at
        piece = looks.outline.replaced.get((at.panel, at.piece))
        earlier = by_spot.get(Spot(at._replace(piece=piece), defect.spot.kind)) if piece else None
        return earlier[-1].pk if earlier else None

    def _write_visit(self, job_id: int, visit: FlatVisit, checks: dict[tuple[str, date], int]) -> None:
        values = visit.values
        entered = values.visit_entered_at or self.source.now
        person = self.plan.shelf.people[values.inspected_by].pk if values.inspected_by else None
        pk = self.visits[id(visit)] = self.tables[Visit].add(
            job_id,
            self._check(job_id, visit, checks),
            Visit.State.FINISHED.value,
            values.origin,
            values.handover_look,
            values.by_photo,
            values.since_when,
            values.since_when_words,
            values.visit_on,
            values.visited_at,
            values.visited_at,
            entered,
            values.odometer,
            person,
            values.signed_name,
            values.visit_note,
        )
        for order, finding in enumerate(visit.findings, 1):
            ref = place_ref(finding.values)
            if (pk, ref) not in self.findings:
                said = (finding.values.result, finding.values.why_not, IMPORTED, values.visited_at, order)
                self.findings[pk, ref] = self.tables[Finding].add(pk, self.places[job_id, ref], *said)

    def _check(self, job_id: int, visit: FlatVisit, checks: dict[tuple[str, date], int]) -> int | None:
        """The planned check that the visit was for: done with it, or waived; it is never due by itself."""
        values = visit.values
        if not values.check_plan or values.check_due_on is None or values.visit_on is None:
            return None
        key = (values.check_plan, values.check_due_on)
        if key not in checks:
            done = values.check_settled
            checks[key] = self._known_check(job_id, *key) or self.tables[Check].add(
                job_id,
                self.plan.shelf.plan(values.check_plan).pk,
                values.check_due_on,
                min(values.check_due_on, values.visit_on),
                max(values.check_due_on, values.visit_on),
                (Check.State.DONE if done else Check.State.WAIVED).value,
                "" if done else str(NOT_PLANNED_HERE),
                values.visited_at,
            )
        return checks[key]

    def _known_check(self, job_id: int, plan: str, due_on: date) -> int:
        rows = Check.objects.filter(job=job_id, plan__key=plan, due_on=due_on)
        return rows.values_list("pk", flat=True).first() or 0

    def _write_defect(self, job_id: int, defect: PlannedDefect, before: int | None) -> None:
        if defect.pk:
            self._go_on(defect)
        else:
            self.numbers += 1
            defect.pk = self.tables[Defect].add(
                f"D{self.numbers:04d}",
                self.places[job_id, defect.spot.at],
                defect.spot.kind,
                defect.kind_name,
                defect.found_on,
                defect.at_handover,
                before,
                defect.state,
                defect.cause,
                defect.cause_sure,
                self.source.now if defect.cause else None,
                defect.verified,
            )
        for sighted in defect.sightings:
            if not sighted.is_here:
                self._write_sighting(defect, sighted)
        for sighted in defect.remedies:
            if not sighted.is_here:
                self._write_remedy(job_id, defect, sighted)

    def _go_on(self, defect: PlannedDefect) -> None:
        """A defect that is here and was seen, judged or put right again."""
        if not all(row.is_here for row in (*defect.sightings, *defect.remedies)):
            said = {"state": defect.state, "verified": defect.verified}
            judged = {"cause": defect.cause, "cause_sure": defect.cause_sure}
            Defect.objects.filter(pk=defect.pk).update(**said, **judged)

    def _write_sighting(self, defect: PlannedDefect, sighted: Sighted) -> None:
        values = sighted.finding.values
        finding = self.findings[self.visits[id(sighted.visit)], place_ref(values)]
        size = (values.extent, values.depth, values.how_many)
        self.tables[Sighting].add(defect.pk, finding, *size, values.severity, values.sighting_note)

    def _write_remedy(self, job_id: int, defect: PlannedDefect, sighted: Sighted) -> None:
        values: FindingValues = sighted.finding.values
        on, visit = values.remedy_on, sighted.visit.values
        assert on is not None
        person = self.plan.shelf.people[values.remedy_by].pk if values.remedy_by else None
        piece = self.pieces.get((job_id, values.panel, values.remedy_piece)) if values.remedy_piece else None
        self.tables[Remedy].add(
            defect.pk,
            values.remedy,
            on,
            noon(on, self.plan.shop.zone),
            person,
            self.visits[id(sighted.visit)] if on == visit.visit_on else None,
            values.remedy_elsewhere,
            values.remedy_time,
            piece,
            values.remedy_cost,
            values.remedy_goodwill,
            values.remedy_heat_c,
            values.remedy_heat_c_basis,
            values.remedy_passes,
            values.remedy_passes_basis,
            values.remedy_note,
        )
