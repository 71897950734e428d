"""A thousand mutated photos sent to the program, a quarter at a time."""

import os
import re
import subprocess
import sys

from tests.bench.rounds import Figures, Round
from tests.bench.whole_suite import ROOT

SAID = re.compile(r"(photos|peak_mb|grown_mb)=(\d+)")
TEST = "tests/jobs/test_mutated_photos.py"


def mutated() -> tuple[Round, ...]:
    return tuple(
        Round(f"quarter {quarter}", lambda seed, q=quarter: run(seed + q))  # type: ignore[misc]
        for quarter in range(1, 5)
    )


def run(seed: int) -> Figures:
    """Passed, and what the test printed: the highest memory of the process that took them."""
    told = {"MUTATED_PHOTOS": "250", "MUTATED_PHOTOS_SEED": str(seed)}
    done = subprocess.run(
        (sys.executable, "-m", "pytest", TEST, "-q", "-s", "-k", "mutated_photos_are", "-p", "no:xdist"),
        cwd=ROOT,
        env={**os.environ, **told},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        print(done.stdout[-8000:], done.stderr[-2000:])
    return Figures(done.returncode == 0, {name: int(value) for name, value in SAID.findall(done.stdout)})
