"""Which lives a page is about: one film family, edges or the surface, and what a reader narrowed it to."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date
from enum import StrEnum

import numpy as np

from .columns import BoolArray
from .lives import LifeTable


class Part(StrEnum):
    """The surface fails of other things than an edge, so it is counted apart."""

    ENDS = "ends"
    SURFACE = "surface"


SURFACE = "field"


@dataclass(frozen=True, slots=True)
class Selection:
    """`since` and `until`: the first and last day on which a life may have started. Empty: everything.

    `trial_lives`: ids of the lives that belong to trials, needed only `without_trials`.
    """

    family: str
    part: Part = Part.ENDS
    body: str = ""
    since: date | None = None
    until: date | None = None
    without_trials: bool = False
    trial_lives: frozenset[int] = field(default=frozenset(), compare=False, repr=False)

    @property
    def exploring(self) -> bool:
        """Narrowed down: figures are shown, verdicts are not."""
        return bool(self.body or self.since or self.until or self.without_trials)

    @property
    def everything(self) -> Selection:
        return replace(self, body="", since=None, until=None, without_trials=False)

    def mask(self, table: LifeTable) -> BoolArray:
        family, kind = table.text("family"), table.text("place_kind")
        on_surface = kind.codes == kind.code(SURFACE)
        wanted: BoolArray = family.codes == family.code(self.family)
        wanted &= on_surface if self.part is Part.SURFACE else ~on_surface
        if self.body:
            body = table.text("body")
            wanted &= body.codes == body.code(self.body)
        if self.since:
            wanted &= table.starts >= self.since.toordinal()
        if self.until:
            wanted &= table.starts <= self.until.toordinal()
        if self.without_trials:
            wanted &= ~np.isin(table.life, list(self.trial_lives))
        return wanted

    def query(self) -> dict[str, str]:
        """As the address of a page says it; what is usual is left out."""
        said = {
            "family": self.family,
            "part": "" if self.part is Part.ENDS else self.part.value,
            "body": self.body,
            "since": self.since.isoformat() if self.since else "",
            "until": self.until.isoformat() if self.until else "",
            "trials": "out" if self.without_trials else "",
        }
        return {key: value for key, value in said.items() if value}


def families(table: LifeTable) -> tuple[str, ...]:
    """Film families on record, the one with the most watched places first, ties alphabetical."""
    column, watched = table.text("family"), table.watched
    counts = np.bincount(column.codes[watched & (column.codes >= 0)], minlength=len(column.levels))
    return tuple(column.levels[k] for k in np.argsort(-counts, kind="stable"))


def bodies(table: LifeTable) -> tuple[str, ...]:
    """Body styles on record, the most usual first."""
    column = table.text("body")
    counts = np.bincount(column.codes[column.codes >= 0], minlength=len(column.levels))
    return tuple(column.levels[k] for k in np.argsort(-counts, kind="stable"))
