"""Rows of the findings file as the looks at one job's film, one job at a time."""

from collections.abc import Iterator
from typing import NamedTuple

from django.utils.translation import gettext as _

from .columns import Level
from .level_reading import LevelReader, Repeated
from .reading import Sheet
from .records import FindingValues, FlatFinding, FlatLooks, FlatVisit, VisitValues


class VisitKey(NamedTuple):
    """What makes two rows rows of the same visit."""

    visit_on: str
    origin: str
    by_photo: bool
    handover_look: bool
    number: int


def visit_key(values: VisitValues) -> VisitKey:
    return VisitKey(
        values.visit_on.isoformat() if values.visit_on else "",
        values.origin,
        bool(values.by_photo),
        bool(values.handover_look),
        values.visit_number or 1,
    )


class LookGrouper:
    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet
        self.visit_reader = LevelReader(sheet, Level.VISIT, VisitValues)
        self.finding_reader = LevelReader(sheet, Level.FINDING, FindingValues)
        self.seen: set[str] = set()
        self.visits: dict[VisitKey, tuple[FlatVisit, Repeated]] = {}

    def looks(self) -> Iterator[FlatLooks]:
        """In the order of the file."""
        current: FlatLooks | None = None
        current_ref, skipping = "", None
        for line, cells in self.sheet.lines():
            ref = cells[0].strip()
            if current is None or ref != current_ref:
                if not ref or ref in self.seen:
                    self._skip(line, ref, ref == skipping)
                    skipping = ref
                    continue
                if current:
                    yield current
                current, current_ref, self.visits = FlatLooks("", line=line), ref, {}
                self.seen.add(ref)
            self._take(current, line, cells)
        if current:
            yield current

    def _skip(self, line: int, ref: str, said: bool) -> None:
        header = self.sheet.bound[0].header
        if not ref:
            self._fault(line, header, "", _("Whose row this is must be said."), _("Write the job's number."))
        elif not said:
            problem = _("was there before, with other jobs in between.")
            self._fault(line, header, ref, problem, _("Rows of one job stand together: sort by this column."))

    def _take(self, looks: FlatLooks, line: int, cells: list[str]) -> None:
        raw = self.visit_reader.pick(cells)
        values = self.visit_reader.read(line, raw)
        looks.ref, looks.rows = values.job_ref, looks.rows + 1
        key = visit_key(values)
        opened = self.visits.get(key)
        if opened is None:
            visit = FlatVisit(values, line=line)
            looks.visits.append(visit)
            opened = self.visits[key] = (visit, Repeated(raw, line))
        else:
            opened[1].check(self.visit_reader, raw, line)
        finding = self.finding_reader.read(line, self.finding_reader.pick(cells))
        opened[0].findings.append(FlatFinding(finding, line))

    def _fault(self, line: int, header: str, value: str, problem: str, remedy: str) -> None:
        self.sheet.faults.add(self.sheet.name, line, header, value, problem, remedy)
