"""Visits of the shop as the findings file says them. A fixed number of queries for each chunk of jobs."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Final, NamedTuple

from shopwarranty.defects.models import Defect, Remedy, ShopDefectKind, Sighting
from shopwarranty.inspections.models import Check, Finding, Visit

from .columns import Level
from .film_of_jobs import FilmOfJobs, PlaceAt
from .level_loading import ELSEWHERE, LevelLoader, clean_text
from .look_grouping import visit_key
from .order import panel_place_in_line, place_rank
from .records import FindingValues, FlatFinding, FlatVisit, VisitValues

VISIT_PATHS: Final = {
    "job_ref": "job__ref",
    "visit_on": "happened_on",
    "handover_look": "is_handover_look",
    "visit_number": ELSEWHERE,
    "visited_at": "started_at",
    "visit_entered_at": "entered_at",
    "inspected_by": "member__name",
    "odometer": "odometer_km",
    "visit_note": "note",
    "check_plan": "check_due__plan__key",
    "check_due_on": "check_due__due_on",
    "check_settled": ELSEWHERE,
}
REMEDY_PATHS: Final = {
    **dict.fromkeys(FindingValues._fields[: FindingValues._fields.index("remedy")], ELSEWHERE),
    "remedy": "kind",
    "remedy_on": "done_on",
    "remedy_by": "member__name",
    "remedy_elsewhere": "by_whom_else",
    "remedy_time": "minutes",
    "remedy_cost": "cost",
    "remedy_goodwill": "is_goodwill",
    "remedy_heat_c": "post_heat_c",
    "remedy_heat_c_basis": "post_heat_c_basis",
    "remedy_passes": "passes",
    "remedy_passes_basis": "passes_basis",
    "remedy_note": "note",
    "remedy_piece": "new_piece__number",
}
REMEDY: Final = FindingValues._fields[FindingValues._fields.index("remedy") :]


@dataclass(slots=True)
class LookHere:
    """A visit of the shop; `defects` holds for each of its rows the defect's row, or 0."""

    pk: int
    visit: FlatVisit
    defects: list[int] = field(default_factory=list)


class _Seen(NamedTuple):
    defect: int
    day: date
    values: dict[str, Any]


class _Found(NamedTuple):
    pk: int
    at: PlaceAt
    result: str
    why_not: str

    @property
    def is_wrong(self) -> bool:
        return self.result == Finding.Result.DEFECT


class LookLoader:
    def __init__(self) -> None:
        self.visit_values = LevelLoader(Level.VISIT, VisitValues, VISIT_PATHS)
        self.remedy_values = LevelLoader(Level.FINDING, FindingValues, REMEDY_PATHS)

    def load(self, job_ids: Sequence[int]) -> dict[int, list[LookHere]]:
        """Finished visits by job, in the order of the file."""
        visits = self._visits(job_ids)
        chunk = _Chunk(FilmOfJobs.read(job_ids), {pk: values for _job, pk, values in visits}, self)
        found: dict[int, list[LookHere]] = defaultdict(list)
        for job_id, pk, values in visits:
            found[job_id].append(chunk.look(pk, values))
        return found

    def _visits(self, job_ids: Sequence[int]) -> list[tuple[int, int, VisitValues]]:
        rows = Visit.objects.filter(job__in=job_ids, state=Visit.State.FINISHED)
        ordered = rows.order_by("happened_on", "-is_handover_look", "started_at", "pk")
        times: dict[tuple[int, tuple[Any, ...]], int] = defaultdict(int)
        found = []
        for job_id, pk, state, *raw in ordered.values_list(
            "job_id", "pk", "check_due__state", *self.visit_values.paths
        ):
            values = self.visit_values.values(tuple(raw))
            if values.check_plan:
                values = values._replace(check_settled=state == Check.State.DONE)
            key = (job_id, visit_key(values))
            times[key] += 1
            found.append((job_id, pk, values._replace(visit_number=times[key])))
        return found


class _Chunk:
    """Findings, sightings and remedies of these visits by what they belong to. `visits` come in order."""

    def __init__(self, film: FilmOfJobs, visits: Mapping[int, VisitValues], loader: LookLoader) -> None:
        self.film, self.visits = film, visits
        self.findings: dict[int, list[_Found]] = defaultdict(list)
        self.sightings: dict[int, list[_Seen]] = defaultdict(list)
        self.remedies: dict[tuple[int, int], list[FindingValues]] = defaultdict(list)
        self._read_findings()
        self._read_sightings()
        self._read_remedies(loader.remedy_values)

    def _read_findings(self) -> None:
        rows = Finding.objects.filter(visit__in=list(self.visits), corrected_at__isnull=True)
        names = ("visit_id", "pk", "place_id", "result", "why_not")
        for visit_id, pk, place_id, result, why_not in rows.values_list(*names):
            found = _Found(pk, self.film.places[place_id], result, clean_text(why_not))
            self.findings[visit_id].append(found)

    def _read_sightings(self) -> None:
        """In the order of their visits, so that defects are numbered as they were first seen."""
        numbers = _Numbers()
        own = dict(ShopDefectKind.objects.values_list("key", "is_failure"))
        order = {visit_id: at for at, visit_id in enumerate(self.visits)}
        visit_of = {
            found.pk: visit for visit, rows in self.findings.items() for found in rows if found.is_wrong
        }
        rows = list(Sighting.objects.filter(finding__in=list(visit_of)).select_related("defect"))
        for sighting in sorted(rows, key=lambda row: (order[visit_of[row.finding_id]], row.pk)):
            defect, day = sighting.defect, self.visits[visit_of[sighting.finding_id]].visit_on
            assert day is not None
            values = {
                "kind": defect.kind,
                "kind_name": clean_text(defect.kind_words),
                "kind_is_failure": own.get(defect.kind),
                "defect_number": numbers.number(defect),
                "severity": sighting.severity,
                "extent": sighting.extent_mm,
                "depth": sighting.depth_mm,
                "how_many": sighting.count,
                "sighting_note": clean_text(sighting.note),
                "defect_state": defect.state,
                "defect_verified": defect.verified,
                "cause": defect.cause,
                "cause_sure": defect.cause_sure,
            }
            self.sightings[sighting.finding_id].append(_Seen(defect.pk, day, values))

    def _read_remedies(self, make: LevelLoader[FindingValues]) -> None:
        """Each goes with the last sighting of its defect by that day, else with the first."""
        sighted: dict[int, list[tuple[date, int]]] = defaultdict(list)
        for finding_id, rows in self.sightings.items():
            for seen in rows:
                sighted[seen.defect].append((seen.day, finding_id))
        of_defects = Remedy.objects.filter(defect__in=list(sighted))
        for defect_id, *raw in of_defects.order_by("done_on", "done_at", "pk").values_list(
            "defect_id", *make.paths
        ):
            values = make.values(tuple(raw))
            days = sorted(sighted[defect_id], key=lambda each: each[0])
            before = [each for each in days if values.remedy_on and each[0] <= values.remedy_on]
            if days:
                finding_id = before[-1][1] if before else days[0][1]
                self.remedies[defect_id, finding_id].append(values)

    def look(self, pk: int, values: VisitValues) -> LookHere:
        look = LookHere(pk, FlatVisit(values))
        for found in sorted(self.findings[pk], key=_in_file_order):
            at = found.at
            base: dict[str, Any] = {"panel": at.panel, "piece": at.piece, "place": at.place}
            base |= {"result": found.result, "why_not": found.why_not}
            for defect_id, more in self._lines(found.pk):
                look.visit.findings.append(FlatFinding(blank_finding()._replace(**base, **more)))
                look.defects.append(defect_id)
        return look

    def _lines(self, finding_id: int) -> list[tuple[int, dict[str, Any]]]:
        """One line for a finding without defects; else one for each defect and remedy."""
        seen = sorted(
            self.sightings[finding_id], key=lambda each: (each.values["kind"], each.values["defect_number"])
        )
        lines: list[tuple[int, dict[str, Any]]] = []
        for each in seen:
            remedies = self.remedies[each.defect, finding_id] or [blank_finding()]
            for remedy in remedies:
                done = {name: getattr(remedy, name) for name in REMEDY}
                lines.append((each.defect, {**each.values, **done}))
        return lines or [(0, {})]


def blank_finding() -> FindingValues:
    return FindingValues()


@dataclass(slots=True)
class _Numbers:
    """1, 2 … of defects of one kind at one place, in the order in which visits first saw them."""

    of: dict[int, int] = field(default_factory=dict)
    times: dict[tuple[int, str], int] = field(default_factory=dict)

    def number(self, defect: Defect) -> int:
        if defect.pk not in self.of:
            spot = (defect.place_id, defect.kind)
            self.times[spot] = self.of[defect.pk] = self.times.get(spot, 0) + 1
        return self.of[defect.pk]


def _in_file_order(found: _Found) -> tuple[Any, ...]:
    at = found.at
    rank = place_rank(at.body, at.panel, at.place, at.kind)
    return panel_place_in_line(at.body, at.panel), at.panel, at.piece, rank, at.walk, at.place
