"""The bench of issuing works on a handful; how fast it is, is measured by `.ci/long issuing`."""

import subprocess
import sys

from tests.bench.whole_suite import ROOT


def test_a_handful_is_issued_one_by_one_and_in_a_batch() -> None:
    program = (sys.executable, "-m", "tests.bench.issuing_speed", "1", "4")
    done = subprocess.run(program, cwd=ROOT, capture_output=True, text=True, check=False)
    assert "batch=4;" in done.stdout, done.stderr[-2000:]
    assert "certificates=1" in done.stdout
