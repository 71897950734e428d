"""A visit that is here already, held against the same visit in a file: a fault for each difference."""

from collections import Counter
from collections.abc import Iterable, Iterator
from typing import Any, Final

from django.utils.translation import gettext as _

from .cells import written
from .defect_planning import SIGHTING, PlaceRef, place_ref
from .reading import Sheet
from .records import FindingValues, FlatFinding, FlatVisit

ONLY_IF_SAID: Final = frozenset(
    {"visited_at", "visit_entered_at", "check_plan", "check_due_on", "check_settled"}
)
REMEDY: Final = FindingValues._fields[FindingValues._fields.index("remedy") :]
Done = tuple[PlaceRef, str, tuple[object, ...]]


def compare_visit(sheet: Sheet, visit: FlatVisit, here: FlatVisit) -> None:
    """The visit itself, what it found where, and what it saw of each defect; remedies are compared apart."""
    for bound in sheet.bound:
        if bound.column.level == "visit":
            _compare_cell(sheet, visit, here, bound.column.name)
    mine, theirs = _seen(visit), _seen(here)
    for key in sorted(mine.keys() | theirs.keys()):
        line = mine[key].line if key in mine else visit.line
        if key not in mine or key not in theirs:
            in_file = _("is in the file, but not in the visit that is here.")
            problem = in_file if key in mine else _("is in the visit that is here, but not in the file.")
            _add(sheet, line, "place", " ".join(str(part) for part in key[0]), problem)
        else:
            _compare_rows(sheet, mine[key].values, theirs[key].values, line)


def _compare_cell(sheet: Sheet, visit: FlatVisit, here: FlatVisit, name: str) -> None:
    mine, other = getattr(visit.values, name), getattr(here.values, name)
    said = getattr(visit.said or visit.values, name)
    if mine == other or (name in ONLY_IF_SAID and said in (None, "")):
        return
    sheet.say(visit.line, "visit", name, written(mine), _here_says(other), remedy_of_difference())


def _seen(visit: FlatVisit) -> dict[tuple[PlaceRef, str], FlatFinding]:
    """The first row of each place and kind; further rows only add remedies."""
    rows: dict[tuple[PlaceRef, str], FlatFinding] = {}
    for finding in visit.findings:
        rows.setdefault((place_ref(finding.values), finding.values.kind), finding)
    return rows


def _compare_rows(sheet: Sheet, mine: FindingValues, theirs: FindingValues, line: int) -> None:
    for name in ("result", "why_not", *SIGHTING):
        if sheet.has(name, "finding") and getattr(mine, name) != getattr(theirs, name):
            _add(sheet, line, name, written(getattr(mine, name)), _here_says(getattr(theirs, name)))
    for name in ("cause", "defect_state"):
        said, known = getattr(mine, name), getattr(theirs, name)
        if said and said != known:
            _add(sheet, line, name, said, _here_says(known))


def remedies_of(visit: FlatVisit) -> Iterator[Done]:
    for finding in visit.findings:
        values = finding.values
        if values.remedy:
            yield place_ref(values), values.kind, tuple(getattr(values, name) for name in REMEDY)


def report_missing_remedies(sheet: Sheet, visits: Iterable[FlatVisit], here: Iterable[Done]) -> None:
    """What the file says was done and the shop does not know, of visits that are here."""
    columns = [at for at, name in enumerate(REMEDY) if sheet.has(name, "finding") or name == "remedy_on"]
    known = Counter(_narrowed(done, columns) for done in here)
    for visit in visits:
        for finding in visit.findings:
            for done in remedies_of(FlatVisit(visit.values, [finding])):
                narrowed = _narrowed(done, columns)
                known[narrowed] -= 1
                if known[narrowed] < 0:
                    problem = _("The visit that is here knows no such remedy.")
                    _add(sheet, finding.line, "remedy", finding.values.remedy, problem)


def _narrowed(done: Done, columns: list[int]) -> Any:
    """Only what the file has columns for."""
    return done[0], done[1], tuple(done[2][at] for at in columns)


def _here_says(value: object) -> str:
    known = written(value) or _("not recorded")
    return _("but the visit that is here says “%(known)s”.") % {"known": known}


def _add(sheet: Sheet, line: int, name: str, value: object, problem: str) -> None:
    sheet.say(line, "finding", name, value, problem, remedy_of_difference())


def remedy_of_difference() -> str:
    return _(
        "An import never changes what is recorded: correct it on the visit's page, or take these rows out."
    )
