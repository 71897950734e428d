"""Which rows speak of the same defect: seen again while it was open, or come again after a remedy."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Final, NamedTuple

from django.utils.translation import gettext as _

from shopwarranty.defects.actions.remedies import LEAVES_IT_OPEN

from .reading import Sheet
from .records import FindingValues, FlatFinding, FlatVisit

SIGHTING: Final = ("severity", "extent", "depth", "how_many", "sighting_note")


class PlaceRef(NamedTuple):
    panel: str
    piece: int
    place: str


class Spot(NamedTuple):
    """Where defects of one kind follow one another."""

    at: PlaceRef
    kind: str


@dataclass(slots=True, eq=False)
class Sighted:
    """One look at a defect. `is_here`: the shop has it already."""

    visit: FlatVisit
    finding: FlatFinding
    is_here: bool


@dataclass(slots=True, eq=False)
class PlannedDefect:
    """`pk` 0: the shop does not have it yet. `remedies`: rows that name one, with whether it is here."""

    spot: Spot
    number: int
    kind_name: str
    found_on: date
    at_handover: bool
    pk: int = 0
    state: str = ""
    cause: str = ""
    cause_sure: str = ""
    verified: bool | None = None
    sightings: list[Sighted] = field(default_factory=list)
    remedies: list[Sighted] = field(default_factory=list)

    def is_over(self, day: date) -> bool:
        """Whether what is seen that day is another defect."""
        done = [on for row in self._put_right() if (on := row.finding.values.remedy_on) is not None]
        return self.state == "ended" or any(on < day for on in done)

    @property
    def is_put_right(self) -> bool:
        return bool(self._put_right())

    def _put_right(self) -> list[Sighted]:
        return [row for row in self.remedies if row.finding.values.remedy not in LEAVES_IT_OPEN]


class DefectPlanner:
    """The defects of one job. Give it the rows in the order in which they were seen."""

    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet
        self.by_spot: dict[Spot, list[PlannedDefect]] = {}

    def take(self, visit: FlatVisit, finding: FlatFinding, *, is_here: bool, pk: int = 0) -> None:
        values = finding.values
        spot = Spot(place_ref(values), values.kind)
        defect = self._defect(visit, finding, spot)
        if defect is None:
            return
        defect.pk = defect.pk or pk
        sighted = Sighted(visit, finding, is_here)
        self._see(defect, sighted)
        if values.remedy:
            defect.remedies.append(sighted)
        self._judge(defect, sighted)

    def _defect(self, visit: FlatVisit, finding: FlatFinding, spot: Spot) -> PlannedDefect | None:
        values, there = finding.values, self.by_spot.setdefault(spot, [])
        day = visit.values.visit_on
        assert day is not None
        number = values.defect_number or self._number(there, day)
        if number > len(there) + 1:
            problem = _("but number %(last)d was not seen before.") % {"last": number - 1}
            self._say(finding, "defect_number", number, problem, _("Number them from 1, or empty the cells."))
            return None
        if number == len(there) + 1:
            handover = bool(visit.values.handover_look)
            there.append(PlannedDefect(spot, number, values.kind_name, day, handover))
        return there[number - 1]

    def _number(self, there: list[PlannedDefect], day: date) -> int:
        return len(there) if there and not there[-1].is_over(day) else len(there) + 1

    def _see(self, defect: PlannedDefect, sighted: Sighted) -> None:
        """Rows of one visit that only add a remedy say the same of what was seen."""
        of_visit = [one for one in defect.sightings if one.visit is sighted.visit]
        if not of_visit:
            defect.sightings.append(sighted)
            return
        first, values = of_visit[0].finding.values, sighted.finding.values
        wrong = next((name for name in SIGHTING if getattr(first, name) != getattr(values, name)), "")
        if wrong or not values.remedy:
            problem = _("but line %(line)d speaks of the same defect.") % {"line": of_visit[0].finding.line}
            name = wrong or "kind"
            remedy = _("Repeat a row only to add a remedy, all else the same.")
            self._say(sighted.finding, name, getattr(values, name), problem, remedy)

    def _judge(self, defect: PlannedDefect, sighted: Sighted) -> None:
        """What is said of the defect as a whole; the latest row that says something counts.

        One that is open here may be put right by a row that follows; one that could not be found again is
        open when it is seen again.
        """
        values = sighted.finding.values
        if not sighted.is_here and defect.state == "not_reproduced":
            defect.state, defect.verified = "", None
        if not (sighted.is_here and values.defect_state == "open"):
            defect.state = values.defect_state or defect.state
        if values.cause:
            defect.cause, defect.cause_sure = values.cause, values.cause_sure
        if values.defect_verified is not None:
            defect.verified = values.defect_verified

    def finish(self) -> list[PlannedDefect]:
        """All of them, each with its state; what cannot be true is a fault."""
        for there in self.by_spot.values():
            for defect in there:
                defect.state = defect.state or ("remedied" if defect.is_put_right else "open")
                self._check_remedied(defect)
            self._check_open([defect for defect in there if defect.state == "open"])
        return [defect for there in self.by_spot.values() for defect in there]

    def _check_remedied(self, defect: PlannedDefect) -> None:
        row = defect.sightings[-1]
        if defect.state == "remedied" and not defect.remedies and not row.is_here:
            problem, remedy = _("but no remedy is named."), _("Name it.")
            self._say(row.finding, "defect_state", defect.state, problem, remedy)

    def _check_open(self, still_open: list[PlannedDefect]) -> None:
        """Of one kind at one place only one is open at a time."""
        if len(still_open) > 1:
            first, row = still_open[0].sightings[0].finding, still_open[1].sightings[0].finding
            problem = _("The defect on line %(line)d is still open.") % {"line": first.line}
            remedy = _("Name its remedy, or give both the same defect_number.")
            self._say(row, "defect_number", still_open[1].number, problem, remedy)

    def _say(self, finding: FlatFinding, name: str, value: object, problem: str, remedy: str) -> None:
        self.sheet.say(finding.line, "finding", name, value, problem, remedy)


def place_ref(values: FindingValues) -> PlaceRef:
    return PlaceRef(values.panel, values.piece or 1, values.place)


def in_order(visits: Iterable[FlatVisit]) -> list[FlatVisit]:
    """As they happened: by day, the handover look first, then by moment; of one moment as they stand."""
    return sorted(visits, key=_when)


def _when(visit: FlatVisit) -> tuple[date, bool, datetime]:
    values = visit.values
    assert values.visit_on is not None
    assert values.visited_at is not None
    return values.visit_on, not values.handover_look, values.visited_at
