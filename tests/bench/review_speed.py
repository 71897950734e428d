"""How long a review of very many lives takes, reading included, beside a library's single fit.

The library's interval-censored Weibull regression runs on the same rows and columns in the same process,
so that a slow or busy machine is slow for both.
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from shopwarranty.analysis.bands import CHECK_BANDS
from shopwarranty.analysis.effects import contrasts, prepare
from shopwarranty.analysis.exposure import Lives
from shopwarranty.analysis.packing import BLOCK, codes, days, pack, unpack
from shopwarranty.analysis.patterns import Factor
from shopwarranty.analysis.questions import Question
from shopwarranty.analysis.results import Review
from shopwarranty.analysis.review import analyse
from shopwarranty.analysis.review_json import to_json
from tests.bench.simulator import PANELS, PLACES, Scenario, simulate

ADJUSTMENT = ("panel", "place", "installer")
IDLE = 28


@dataclass(frozen=True, slots=True)
class Speed:
    """Seconds: the best of several tries; `library` None when it was not run."""

    lives: int
    vehicles: int
    failures: int
    columns: int
    reading: float
    regression: float
    review: float
    library: float | None

    @property
    def regression_times(self) -> float | None:
        return None if self.library is None else self.library / self.regression

    @property
    def review_times(self) -> float | None:
        return None if self.library is None else self.library / self.review


def measure(lives: int, folder: Path, seed: int, tries: int = 3, library: bool = True) -> Speed:
    """Make up about `lives` lives, store them packed in SQLite, and time reading, one fit, the review."""
    shop = simulate(
        Scenario(vehicles=-(-lives // (PANELS * PLACES)), first_year=0.012, idle=IDLE, late=0.0),
        np.random.default_rng(seed),
    )
    path = store(folder / f"{lives}.sqlite3", shop.lives, shop.factors)
    shapes = [(f.name, f.levels, f.reference) for f in shop.factors]
    reading = best(tries, lambda: read(path, shapes))
    seen, factors = read(path, shapes)
    return Speed(
        lives=len(seen),
        vehicles=shop.record.age_today.size,
        failures=int(seen.found.sum()),
        columns=CHECK_BANDS.count
        + sum(len(f.compared) for f in factors if f.name in (*ADJUSTMENT, "heated")),
        reading=reading,
        regression=best(tries, lambda: one_regression(seen, factors)),
        review=best(tries, lambda: to_json(whole_review(*read(path, shapes)))),
        library=library_fit(seen, factors) if library else None,
    )


def best(tries: int, work: Callable[[], object]) -> float:
    """Shortest of several tries, in seconds: what the machine can do when nobody disturbs it."""
    taken = []
    for _ in range(tries):
        begun = time.perf_counter()
        work()
        taken.append(time.perf_counter() - begun)
    return min(taken)


def store(path: Path, lives: Lives, factors: Sequence[Factor]) -> Path:
    with sqlite3.connect(path) as connection:
        connection.execute("CREATE TABLE block (number INTEGER PRIMARY KEY, packed BLOB NOT NULL)")
        for number, start in enumerate(range(0, len(lives), BLOCK)):
            rows = np.arange(start, min(start + BLOCK, len(lives)))
            seen = (lives.entry, lives.clean, lives.failed, lives.cluster)
            kept = (codes(f.codes[rows], len(f.levels)) for f in factors)
            packed = pack([*(days(column[rows]) for column in seen), *kept])
            connection.execute("INSERT INTO block VALUES (?, ?)", (number, packed))
    connection.close()
    return path


def read(path: Path, shapes: Sequence[tuple[str, tuple[str, ...], int]]) -> tuple[Lives, tuple[Factor, ...]]:
    connection = sqlite3.connect(path)
    blocks = [row[0] for row in connection.execute("SELECT packed FROM block ORDER BY number")]
    connection.close()
    columns = unpack(blocks)
    pairs = zip(shapes, columns[4:], strict=True)
    return Lives(*columns[:4]), tuple(
        Factor(name, c, levels, reference) for (name, levels, reference), c in pairs
    )


def one_regression(lives: Lives, factors: Sequence[Factor]) -> object:
    """Base fit and one factor with its sandwich, from unpacked columns."""
    kept = np.flatnonzero(lives.watched)
    chosen = {f.name: f.only(kept) for f in factors if f.name in (*ADJUSTMENT, "heated")}
    ground = prepare(lives.only(kept), [chosen[name] for name in ADJUSTMENT], CHECK_BANDS)
    return contrasts(ground, chosen["heated"])


def whole_review(lives: Lives, factors: tuple[Factor, ...]) -> Review:
    claimed = tuple(f.name for f in factors if f.name not in ADJUSTMENT)
    return analyse(Question(lives, factors, claimed, ADJUSTMENT, ("place",)), seed=1)


def library_fit(lives: Lives, factors: Sequence[Factor]) -> float:
    """Seconds of lifelines' WeibullAFTFitter on the same watched rows and the same 0/1 columns."""
    import pandas as pd  # type: ignore[import-untyped]
    from lifelines import WeibullAFTFitter

    kept = np.flatnonzero(lives.watched)
    columns = {"left": lives.last_clean[kept].astype(float)}
    columns["right"] = np.where(lives.found[kept], lives.failed[kept].astype(float), np.inf)
    for factor in factors:
        if factor.name in (*ADJUSTMENT, "heated"):
            indicators = factor.indicators(factor.codes[kept])
            names = [f"{factor.name} {factor.levels[k]}" for k in factor.compared]
            columns |= {name: indicators[:, k] for k, name in enumerate(names)}
    table = pd.DataFrame(columns)
    begun = time.perf_counter()
    WeibullAFTFitter(penalizer=0.0).fit_interval_censoring(table, "left", "right")
    return time.perf_counter() - begun


@dataclass(frozen=True, slots=True)
class Growth:
    """The same review of a tenth of the lives and of all."""

    small: Speed
    large: Speed

    @property
    def times(self) -> float:
        return self.large.review / self.small.review


def growth(lives: int, seed: int) -> Growth:
    with TemporaryDirectory() as folder:
        small = measure(lives // 10, Path(folder), seed, library=False)
        return Growth(small, measure(lives, Path(folder), seed))
