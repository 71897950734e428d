"""The hand-written sources of the demo shop, read once. See fixtures/demo/README.md."""

import csv
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).resolve().parents[2] / "fixtures" / "demo"


@dataclass(frozen=True, slots=True)
class Film:
    key: str
    family: str
    jobs_a_lot: int
    columns: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Model:
    make: str
    model: str
    body: str
    weight: int


@dataclass(frozen=True, slots=True)
class Version:
    since_days: int
    note: str
    values: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Method:
    name: str
    families: frozenset[str]
    versions: tuple[Version, ...]

    def number_on(self, days_ago: int) -> int:
        """The version in use so many days ago, counted from 1."""
        return max(sum(version.since_days >= days_ago for version in self.versions), 1)


@dataclass(frozen=True, slots=True)
class Claim:
    """One claim: its stage, how many days ago it came, what was decided and why."""

    state: str
    days_ago: int
    channel: str
    answer: str
    reason: str
    clause: str
    fact: str


@cache
def claims() -> tuple[Claim, ...]:
    return tuple(_claim(**row) for row in _rows("claims"))


@cache
def said_of(kind: str) -> str:
    """What a holder says of a defect of that kind."""
    return next(row["text"] for row in _rows("said") if row["kind"] == kind)


@cache
def films() -> tuple[Film, ...]:
    return tuple(_film(row) for row in _rows("films"))


@cache
def models() -> tuple[Model, ...]:
    return tuple(Model(row["make"], row["model"], row["body"], int(row["weight"])) for row in _rows("models"))


@cache
def names(kind: str) -> tuple[str, ...]:
    return tuple(row["text"] for row in _rows("names") if row["kind"] == kind)


@cache
def people() -> tuple[Mapping[str, str], ...]:
    return tuple(_rows("people"))


@cache
def methods() -> tuple[Method, ...]:
    content = json.loads((FOLDER / "methods.json").read_text(encoding="utf-8"))
    return tuple(
        Method(
            one["name"],
            frozenset(one["family"].split()),
            tuple(Version(v["since_days"], v["note"], v["values"]) for v in one["versions"]),
        )
        for one in content
    )


def _claim(*, days_ago: str, **words: str) -> Claim:
    return Claim(days_ago=int(days_ago), **words)


def _film(row: dict[str, str]) -> Film:
    words = ("maker", "maker_address", "name", "finish", "laid")
    whole = ("shelf_life_months", "wash_after_hours")
    numbers = (
        *("thickness_um", "apply_min_c", "apply_max_c"),
        *("post_heat_min_c", "post_heat_max_c", "humidity_max"),
    )
    columns: dict[str, Any] = {name: row[name] for name in words}
    columns |= {name: int(row[name]) for name in whole if row[name]}
    columns |= {name: float(row[name]) for name in numbers if row[name]}
    return Film(row["key"], row["family"], int(row["jobs_a_lot"]), columns)


def _rows(name: str) -> Iterator[dict[str, str]]:
    with (FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        yield from csv.DictReader(file)
