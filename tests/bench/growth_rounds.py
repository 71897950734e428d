"""Pages at a hundred thousand jobs, and a thousand shops in one database; each in a process of its own."""

import re
import subprocess
import sys

from tests.bench.rounds import Figures, Round
from tests.bench.whole_suite import ROOT

MEASURED = re.compile(r"(\w+)=([\d.]+)")


def pages() -> tuple[Round, ...]:
    return (Round("100,000 jobs", lambda seed: ran("page_speed", 100_000, seed)),)


def shops() -> tuple[Round, ...]:
    return (
        Round("100 shops", lambda seed: ran("many_shops", 100, seed)),
        Round("1,000 shops", lambda seed: ran("many_shops", 1000, seed)),
    )


def ran(module: str, size: int, seed: int) -> Figures:
    program = (sys.executable, "-m", f"tests.bench.{module}", str(size), str(seed))
    done = subprocess.run(
        program, cwd=ROOT, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False
    )
    print(done.stdout, done.stderr[-2000:], sep="\n")
    figures = {name: float(number) for name, number in MEASURED.findall(done.stdout)}
    return Figures(done.returncode == 0 and bool(figures), figures)
