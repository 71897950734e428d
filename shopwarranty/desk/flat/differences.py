"""A job that is here already, held against the same job in a file: a fault for each difference."""

from collections.abc import Iterable, Sequence
from typing import Any, Final

from django.utils.translation import gettext as _

from .cells import written
from .reading import Sheet
from .records import FlatJob, FlatPanel, FlatPiece, FlatPlace, OwnValue

MOST_LISTED: Final = 6
NEVER_COMPARED: Final = frozenset({"vehicle_first_job", "panel_name"})
ONLY_IF_SAID: Final = frozenset({"entered_at", "plate_since", "holder_since", "method_version", "place_name"})


class Comparer:
    """Compares only what the file has columns for."""

    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet
        self.names = {
            level: [b.column.name for b in sheet.bound if b.column.level == level]
            for level in ("job", "panel", "piece", "place")
        }
        self.own_keys = frozenset(bound.own.key for bound in sheet.own)

    def compare(self, job: FlatJob, here: FlatJob) -> None:
        self._values("job", job.line, job.values, here.values, job.said)
        self._own(job.line, job.own, here.own)
        for panel, other in self._pairs("panel", job.line, job.panels, here.panels):
            self._compare_panel(panel, other)

    def _compare_panel(self, panel: FlatPanel, here: FlatPanel) -> None:
        self._values("panel", panel.line, panel.values, here.values)
        self._own(panel.line, panel.own, here.own)
        for piece, other in self._pairs("piece", panel.line, panel.pieces, here.pieces):
            self._values("piece", piece.line, piece.values, other.values)
            for place, same in self._pairs("place", piece.line, piece.places, other.places):
                if place.values != same.values:
                    self._values("place", place.line, place.values, same.values)
                self._own(place.line, place.own, same.own)

    def _pairs(
        self, level: str, line: int, found: Sequence[Any], here: Sequence[Any]
    ) -> list[tuple[Any, Any]]:
        mine, theirs = {key_of(each): each for each in found}, {key_of(each): each for each in here}
        for key in sorted(mine.keys() - theirs.keys()):
            self._differs(mine[key].line, level, level, key, _("is not in the job that is here."))
        more = [str(key) for key in sorted(theirs.keys() - mine.keys())]
        if more:
            problem = _("The job that is here has more (%(keys)s).") % {"keys": listed(more)}
            self._differs(line, level, level, "", problem)
        return [(each, theirs[key]) for key, each in mine.items() if key in theirs]

    def _values(self, level: str, line: int, found: Any, here: Any, said: Any = None) -> None:
        for name in self.names[level]:
            mine, other = getattr(found, name), getattr(here, name)
            if mine == other or name in NEVER_COMPARED:
                continue
            if name in ONLY_IF_SAID and getattr(said or found, name) in (None, ""):
                continue
            known = written(other) or _("not recorded")
            problem = _("but the job that is here says “%(known)s”.") % {"known": known}
            self._differs(line, level, name, written(mine), problem)

    def _own(self, line: int, found: Iterable[OwnValue], here: Iterable[OwnValue]) -> None:
        known = {value for value in here if value.key in self.own_keys}
        for value in sorted(set(found) ^ known):
            problem = _("The job that is here says something else.")
            self.sheet.faults.add(
                self.sheet.name, line, f"field:{value.key}", value.value, problem, remedy_of_difference()
            )

    def _differs(self, line: int, level: str, name: str, value: object, problem: str) -> None:
        self.sheet.say(line, level, name, value, problem, remedy_of_difference())


def remedy_of_difference() -> str:
    return _("An import never changes what is recorded: correct it on the job's page, or take the job out.")


def key_of(part: FlatPanel | FlatPiece | FlatPlace) -> str | int:
    if isinstance(part, FlatPanel):
        return part.values.panel
    return part.number if isinstance(part, FlatPiece) else part.values.place


def listed(keys: Sequence[str]) -> str:
    """The first few."""
    return ", ".join(keys[:MOST_LISTED]) + (" …" if len(keys) > MOST_LISTED else "")
