"""Visits of the shop as the findings file says them. A fixed number of queries for each chunk of jobs."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Final, NamedTuple

from shopwarranty.defects.models import Defect, Remedy, ShopDefectKind, Sighting
from shopwarranty.inspections.models import Check, Finding, Visit

from .columns import Level
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
BY_VISIT: Final = (
    "finding__visit__happened_on",
    "-finding__visit__is_handover_look",
    "finding__visit__started_at",
    "finding__visit__pk",
)
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


class _Where(NamedTuple):
    panel: str
    piece: int
    place: str
    kind: str
    walk: int
    body: str


class LookLoader:
    def __init__(self) -> None:
        self.visit_values = LevelLoader(Level.VISIT, VisitValues, VISIT_PATHS)
        self.remedy_values = LevelLoader(Level.FINDING, FindingValues, REMEDY_PATHS)

    def load(self, job_ids: Sequence[int]) -> dict[int, list[LookHere]]:
        """Finished visits by job, in the order of the file."""
        chunk = _Chunk(job_ids, self)
        found: dict[int, list[LookHere]] = defaultdict(list)
        for job_id, pk, values in self._visits(job_ids):
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
    """Findings, sightings and remedies of these jobs by what they belong to."""

    def __init__(self, job_ids: Sequence[int], loader: LookLoader) -> None:
        self.findings: dict[int, list[tuple[int, _Where, str, str]]] = defaultdict(list)
        self.sightings: dict[int, list[_Seen]] = defaultdict(list)
        self.remedies: dict[tuple[int, int], list[FindingValues]] = defaultdict(list)
        self._read_findings(job_ids)
        self._read_sightings(job_ids)
        self._read_remedies(job_ids, loader.remedy_values)

    def _read_findings(self, job_ids: Sequence[int]) -> None:
        rows = Finding.objects.filter(
            visit__job__in=job_ids, visit__state=Visit.State.FINISHED, corrected_at__isnull=True
        )
        at = "place__piece__panel_work__"
        names = (f"{at}panel", "place__piece__number", "place__key", "place__kind", "place__walk")
        body = f"{at}job__vehicle__body_style"
        for pk, visit_id, result, why_not, *where in rows.values_list(
            "pk", "visit_id", "result", "why_not", *names, body
        ):
            self.findings[visit_id].append((pk, _Where(*where), result, clean_text(why_not)))

    def _read_sightings(self, job_ids: Sequence[int]) -> None:
        numbers = _Numbers()
        own = dict(ShopDefectKind.objects.values_list("key", "is_failure"))
        rows = Sighting.objects.filter(
            finding__visit__job__in=job_ids,
            finding__visit__state=Visit.State.FINISHED,
            finding__corrected_at__isnull=True,
        ).order_by(*BY_VISIT, "pk")
        for sighting in rows.select_related("defect", "finding__visit"):
            defect = sighting.defect
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
            seen = _Seen(defect.pk, sighting.finding.visit.happened_on, values)
            self.sightings[sighting.finding_id].append(seen)

    def _read_remedies(self, job_ids: Sequence[int], make: LevelLoader[FindingValues]) -> None:
        """Each goes with the last sighting of its defect by that day, else with the first."""
        sighted: dict[int, list[tuple[date, int]]] = defaultdict(list)
        for finding_id, rows in self.sightings.items():
            for seen in rows:
                sighted[seen.defect].append((seen.day, finding_id))
        of_jobs = Remedy.objects.filter(defect__place__piece__panel_work__job__in=job_ids)
        for defect_id, *raw in of_jobs.order_by("done_on", "done_at", "pk").values_list(
            "defect_id", *make.paths
        ):
            values = make.values(tuple(raw))
            days = sorted(sighted[defect_id], key=lambda each: each[0])
            before = [each for each in days if values.remedy_on and each[0] <= values.remedy_on]
            if days:
                finding_id = before[-1][1] if before else days[0][1]
                self.remedies[defect_id, finding_id].append(values)

    def look(self, pk: int, values: VisitValues) -> LookHere:
        rows = sorted(self.findings[pk], key=_in_file_order)
        look = LookHere(pk, FlatVisit(values))
        for finding_id, where, result, why_not in rows:
            base: dict[str, Any] = {"panel": where.panel, "piece": where.piece, "place": where.place}
            base |= {"result": result, "why_not": why_not}
            for defect_id, more in self._lines(finding_id):
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


def _in_file_order(row: tuple[int, _Where, str, str]) -> tuple[Any, ...]:
    where = row[1]
    rank = place_rank(where.body, where.panel, where.place, where.kind)
    line = panel_place_in_line(where.body, where.panel)
    return line, where.panel, where.piece, rank, where.walk, where.place
