"""Issuing certificates: one by one beside bare rendering, and a thousand in one batch with flat memory."""

import re
import subprocess
import sys

from tests.bench.rounds import Figures, Round
from tests.bench.whole_suite import ROOT

SAID = re.compile(r"(\w+)=([\d.]+)")


def rounds() -> tuple[Round, ...]:
    return (
        Round("twenty beside bare rendering", lambda seed: issued(20, 0)),
        Round("a thousand in one batch", lambda seed: issued(5, 1000)),
    )


def issued(single: int, together: int) -> Figures:
    """In a process of its own, whose memory is measured."""
    program = (sys.executable, "-m", "tests.bench.issuing_speed", str(single), str(together))
    done = subprocess.run(
        program, cwd=ROOT, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False
    )
    print(done.stdout, done.stderr[-2000:], sep="\n")
    figures = {name: float(number) for name, number in SAID.findall(done.stdout)}
    return Figures(done.returncode == 0 and bool(figures), figures)
