"""Rows of the database as the values of one level, by paths: column name -> where the query finds it."""

from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, datetime
from typing import Any, Final, Generic, TypeVar

from .columns import Kind, Level, of_level
from .finding_columns import FINDING_COLUMNS
from .job_columns import JOB_COLUMNS
from .level_reading import EMPTY, MOST_KEPT

V = TypeVar("V")
ELSEWHERE: Final = ""
"""The path of a column that is not read with its row."""


class LevelLoader(Generic[V]):
    """`paths` names what differs: a column without an entry is found under its own name."""

    def __init__(self, level: Level, make: Callable[..., V], paths: Mapping[str, str]) -> None:
        columns = of_level((*JOB_COLUMNS, *FINDING_COLUMNS), level)
        read = [(slot, c) for slot, c in enumerate(columns) if paths.get(c.name, c.name) != ELSEWHERE]
        self.make = make
        self.paths = [paths.get(column.name, column.name) for _slot, column in read]
        self.cleaners = [(slot, CLEANERS.get(column.kind, as_it_is)) for slot, column in read]
        self.blank = [EMPTY.get(column.kind) for column in columns]
        self.kept: dict[tuple[Any, ...], V] = {}

    def values(self, raw: tuple[Any, ...]) -> V:
        """`raw` in the order of `paths`."""
        found = self.kept.get(raw)
        if found is None:
            filled = list(self.blank)
            for (slot, clean), value in zip(self.cleaners, raw, strict=True):
                filled[slot] = clean(value)
            found = self.make(*filled)
            if len(self.kept) < MOST_KEPT:
                self.kept[raw] = found
        return found


def as_it_is(value: Any) -> Any:
    return value


def clean_text(value: str | None) -> str:
    return value.replace("\0", "").strip() if value else ""


def to_the_second(at: datetime | None) -> datetime | None:
    return at.astimezone(UTC).replace(microsecond=0) if at else None


CLEANERS: Final[dict[Kind, Callable[[Any], Any]]] = {
    Kind.TEXT: clean_text,
    Kind.WORD: clean_text,
    Kind.MOMENT: to_the_second,
}


def same_names(names: Iterable[str], path: str) -> dict[str, str]:
    return {name: f"{path}{name}" for name in names}
