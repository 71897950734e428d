"""Web server and worker killed 200 times, twenty at a time, on SQLite; twenty times on PostgreSQL."""

import os
import re
import subprocess
import sys
from collections.abc import Mapping

from tests.bench.rounds import Figures, Round
from tests.bench.whole_suite import ROOT, run_tests
from tests.throwaway_postgres import server

SAID = re.compile(r"(\w+)=(\d+)")
MEASURED = re.compile(r"(\w+)=([\d.]+)")
TWENTIES = 10


def kills() -> tuple[Round, ...]:
    on_file = [Round(f"twenty, {n}", lambda seed, n=n: killed(seed + n, {})) for n in range(TWENTIES)]  # type: ignore[misc]
    return (*on_file, Round("twenty on PostgreSQL", on_postgres))


def on_postgres(seed: int) -> Figures:
    with server() as address:
        database = {"DATABASE_URL": address}
        migrate = (sys.executable, "-m", "django", "migrate", "-v0", "--settings", "shopwarranty.settings")
        subprocess.run(migrate, cwd=ROOT, env={**os.environ, **database}, check=True)
        return killed(seed, database)


def killed(seed: int, environment: Mapping[str, str], rounds: int = 20) -> Figures:
    """Passed, and the tally."""
    done = subprocess.run(
        (sys.executable, "-m", "tests.bench.kill_rounds", "--rounds", str(rounds), "--seed", str(seed)),
        cwd=ROOT,
        env={**os.environ, **environment},
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
