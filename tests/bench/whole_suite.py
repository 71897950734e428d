"""Every room's tests, those marked `long` included, on SQLite or beside a PostgreSQL server of its own."""

import os
import re
import subprocess
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from tests.bench.rounds import Figures, Round
from tests.throwaway_postgres import server

ROOT = Path(__file__).parents[2]
COUNTS = re.compile(r"(\d+) (passed|failed|errors?|skipped|xfailed)")


def on_postgres() -> tuple[Round, ...]:
    return tuple(Round(room, lambda seed, room=room: run_on_postgres(room, seed)) for room in rooms())  # type: ignore[misc]


def rooms() -> list[str]:
    """The folders of tests, without the large rounds themselves, and "." for what lies above the rooms."""
    return [*sorted({path.parent.name for path in ROOT.glob("tests/*/test_*.py")} - {"bench"}), "."]


def paths(room: str) -> list[str]:
    if room != ".":
        return [f"tests/{room}"]
    return sorted(str(path.relative_to(ROOT)) for path in ROOT.glob("tests/test_*.py"))


def run_on_postgres(room: str, seed: int) -> Figures:
    with server() as address:
        return run(room, seed, {"DATABASE_URL": address})


def query_counts() -> tuple[Round, ...]:
    """Pages of a shop of ten thousand jobs ask no more than those of a shop of ten."""
    chosen = ("tests/test_query_counts.py", "-m", "long")
    return (Round("ten thousand jobs", lambda seed: run_tests(chosen, seed, {})),)


def barriers() -> tuple[Round, ...]:
    """Every page in all colours at both widths."""
    chosen = ("tests/browser/test_barriers.py",)
    return (Round("all pages, all colours", lambda seed: run_tests(chosen, seed, {"BARRIERS": "all"})),)


FUZZ_ROUNDS = 25
FORMS_A_STATE = 1000


def fuzzed() -> tuple[Round, ...]:
    """Each round sends 1,000 forms to pages of an open job, 1,000 to those of one handed over, 250 to pages
    for strangers, and spoils 1,000 cells of an import, of a file of lives and of a logger's file."""
    return tuple(Round(f"2,000 forms, {number}", _fuzz(number)) for number in range(1, FUZZ_ROUNDS + 1))


def _fuzz(number: int) -> Callable[[int], Figures]:
    def run_round(seed: int) -> Figures:
        count = str(FORMS_A_STATE)
        told = {"FUZZ_SEED": str(seed + number), "FUZZ_FORMS": count, "FUZZ_CELLS": count}
        chosen = ("tests/test_hostile_input.py", "tests/test_hostile_files.py", "-n", "0")
        return run_tests(chosen, seed, told)

    return run_round


def run(room: str, seed: int, environment: Mapping[str, str]) -> Figures:
    return run_tests((*paths(room), "-n", "2", "--dist", "loadgroup"), seed, environment)


def run_tests(chosen: Sequence[str], seed: int, environment: Mapping[str, str]) -> Figures:
    done = subprocess.run(
        (sys.executable, "-m", "pytest", *chosen, "-q", f"--hypothesis-seed={seed}"),
        cwd=ROOT,
        env={**os.environ, **environment},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        print(done.stdout[-8000:], done.stderr[-2000:])
    counts = {
        what: int(number) for number, what in COUNTS.findall(done.stdout.rpartition("\n=")[2] or done.stdout)
    }
    return Figures(done.returncode == 0 and counts.get("passed", 0) > 0, counts)
