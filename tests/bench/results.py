"""The small tables in tests/bench/results/: one row a round, with seed and version."""

import csv
from dataclasses import dataclass, field
from pathlib import Path

from tests.bench.rounds import Figures, Value

COLUMNS = ("round", "seed", "version", "seconds", "passed", "figures")


@dataclass(frozen=True, slots=True)
class Row:
    name: str
    seed: int
    version: str
    seconds: float
    figures: Figures

    def cells(self) -> tuple[str, ...]:
        passed = "yes" if self.figures.passed else "no"
        return (
            self.name,
            str(self.seed),
            self.version,
            f"{self.seconds:.1f}",
            passed,
            self.written_figures(),
        )

    def written_figures(self) -> str:
        return "; ".join(f"{name}={shown(value)}" for name, value in self.figures.values.items())

    def line(self) -> str:
        return "  ".join(f"{name} {cell}" for name, cell in zip(COLUMNS, self.cells(), strict=True))


def shown(value: Value) -> str:
    return f"{value:.6g}" if isinstance(value, float) else str(value)


@dataclass(slots=True)
class Table:
    """Keeps the rows of one version and seed; rows of an older one make way when the first new one comes."""

    path: Path
    version: str
    seed: int
    rows: list[tuple[str, ...]] = field(init=False)

    def __post_init__(self) -> None:
        self.rows = [row for row in self.read() if row[1:3] == (str(self.seed), self.version)]

    def read(self) -> list[tuple[str, ...]]:
        if not self.path.exists():
            return []
        with self.path.open(newline="") as file:
            return [tuple(row) for row in csv.reader(file)][1:]

    def has(self, name: str) -> bool:
        return any(row[0] == name for row in self.rows)

    def passed(self, name: str) -> bool:
        return any(row[0] == name and row[4] == "yes" for row in self.rows)

    def add(self, row: Row) -> None:
        """Written at once and whole, so that an interruption loses at most the round it interrupts."""
        self.path.parent.mkdir(exist_ok=True)
        self.rows.append(row.cells())
        beside = self.path.with_suffix(".new")
        with beside.open("w", newline="") as file:
            csv.writer(file, lineterminator="\n").writerows([COLUMNS, *self.rows])
        beside.replace(self.path)
