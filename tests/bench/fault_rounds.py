"""Programs killed again and again, twenty or sixty times a row of the table, on SQLite and on PostgreSQL."""

import atexit
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Mapping, Sequence
from contextlib import ExitStack
from functools import cache
from pathlib import Path

import psycopg

from tests.bench.rounds import Figures, Round
from tests.bench.whole_suite import ROOT, run_tests
from tests.throwaway_postgres import server

SAID = re.compile(r"(\w+)=(\d+)")
MEASURED = re.compile(r"(\w+)=([\d.]+)")
TWENTIES = 10
MIGRATE = (sys.executable, "-m", "django", "migrate", "-v0", "--settings", "shopwarranty.settings")


def kills() -> tuple[Round, ...]:
    """Web server and worker, 200 times on either database."""
    numbers = range(TWENTIES)
    on_a_file = [Round(f"twenty, {n}", lambda seed, n=n: on_file(seed + n)) for n in numbers]  # type: ignore[misc]
    beside = [Round(f"twenty on PostgreSQL, {n}", lambda seed, n=n: on_postgres(seed + n)) for n in numbers]  # type: ignore[misc]
    return (*on_a_file, *beside)


def on_file(seed: int) -> Figures:
    with tempfile.TemporaryDirectory() as folder:
        copy = shutil.copy(migrated_file(), folder)
        return killed(seed, {"DATABASE_URL": f"sqlite:///{copy}"})


def on_postgres(seed: int) -> Figures:
    address = migrated_server()
    start, _, name = address.rpartition("/")
    with psycopg.connect(f"{start}/postgres", autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE row_{seed} TEMPLATE {name}")
    return killed(seed, {"DATABASE_URL": f"{start}/row_{seed}"})


@cache
def migrated_file() -> Path:
    """Made once for all rows of this run."""
    path = Path(KEPT.enter_context(tempfile.TemporaryDirectory())) / "migrated.sqlite3"
    migrated(f"sqlite:///{path}")
    return path


@cache
def migrated_server() -> str:
    return migrated(KEPT.enter_context(server()))


def migrated(address: str) -> str:
    subprocess.run(MIGRATE, cwd=ROOT, env={**os.environ, "DATABASE_URL": address}, check=True)
    return address


KEPT = ExitStack()
atexit.register(KEPT.close)


def killed(seed: int, environment: Mapping[str, str], rounds: int = 20) -> Figures:
    """Passed, and the tally."""
    return tallied(("kill_rounds", "--rounds", str(rounds), "--seed", str(seed)), environment)


def faults() -> tuple[Round, ...]:
    """Web server, worker and database during the three acts: 300 times, a fifth of them on SQLite."""
    beside = [
        Round(f"sixty on PostgreSQL, {n}", lambda seed, n=n: killed_in_acts(seed + n, 60, postgres=True))  # type: ignore[misc]
        for n in range(1, 5)
    ]
    return (Round("sixty on SQLite", lambda seed: killed_in_acts(seed, 60, postgres=False)), *beside)


def killed_in_acts(seed: int, rounds: int, *, postgres: bool) -> Figures:
    """Each run makes its own database, so that it may be killed."""
    program = ("act_rounds", "--rounds", str(rounds), "--seed", str(seed))
    return tallied((*program, "--postgres") if postgres else program, {"DATABASE_URL": ""})


def tallied(program: Sequence[str], environment: Mapping[str, str]) -> Figures:
    name, *arguments = program
    done = subprocess.run(
        (sys.executable, "-m", f"tests.bench.{name}", *arguments),
        cwd=ROOT,
        env={key: value for key, value in {**os.environ, **environment}.items() if value},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    print(done.stdout, done.stderr[-2000:], sep="\n")
    counts = {name: int(number) for name, number in SAID.findall(done.stdout)}
    return Figures(done.returncode == 0 and counts.get("messages", 0) > 0, counts)


def year() -> tuple[Round, ...]:
    """A year of 500 jobs, day by day, as the oracle says."""
    chosen = ("tests/inspections/test_a_year.py", "-m", "long")
    return (Round("500 jobs", lambda seed: run_tests(chosen, seed, {})),)


def races() -> tuple[Round, ...]:
    """32 clients, fifty times."""
    chosen = ("tests/inspections/test_many_hands.py", "-m", "long")

    def beside_a_server(seed: int) -> Figures:
        with server() as address:
            return run_tests(chosen, seed, {"DATABASE_URL": address})

    return (
        Round("SQLite", lambda seed: run_tests(chosen, seed, {})),
        Round("PostgreSQL", beside_a_server),
    )


def tick() -> tuple[Round, ...]:
    return (Round("100,000 jobs", lambda seed: tick_speed(100_000)),)


def tick_speed(jobs: int) -> Figures:
    """In a process of its own, whose memory is measured."""
    program = (sys.executable, "-m", "tests.bench.tick_speed", str(jobs))
    done = subprocess.run(
        program, cwd=ROOT, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False
    )
    print(done.stdout, done.stderr[-2000:], sep="\n")
    figures = {name: float(number) for name, number in MEASURED.findall(done.stdout)}
    return Figures(done.returncode == 0 and bool(figures), figures)
