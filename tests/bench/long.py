"""python -m tests.bench.long PART: runs what is left of a part and keeps each round as a row of its table.

A part stops by itself before the hour is over; running it again goes on where it stopped. Rows belong to
the version of the code they were measured with, and are measured again for another version.
"""

import argparse
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path

from tests.bench.parts import PARTS
from tests.bench.results import Row, Table
from tests.bench.rounds import EVERYTHING, Part, Round

ROOT = Path(__file__).parents[2]
RESULTS = Path(__file__).parent / "results"
MINUTES = 58.0
UNFINISHED = 3


def main() -> int:
    parser = argparse.ArgumentParser(
        prog=".ci/long", epilog=listing(), formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("part", choices=sorted(PARTS))
    parser.add_argument("--minutes", type=float, default=MINUTES, help="start no round that may end later")
    chosen = parser.parse_args()
    part = PARTS[chosen.part]
    table = Table(RESULTS / f"{chosen.part}.csv", version(part.code), part.seed)
    return run(part, table, chosen.minutes * 60)


def listing() -> str:
    return "\n".join(f"{name:<14}{part.about}" for name, part in sorted(PARTS.items()))


def version(code: Sequence[str] = EVERYTHING) -> str:
    """Changes whenever this code does, but not with the results themselves."""
    asked = ("git", "ls-files", "-s", "--", *code, ":!tests/bench/results")
    files = subprocess.run(asked, cwd=ROOT, capture_output=True, check=True).stdout
    changed = subprocess.run(
        ("git", "diff", "HEAD", "--", *code, ":!tests/bench/results"),
        cwd=ROOT,
        capture_output=True,
        check=True,
    ).stdout
    named = subprocess.run(
        ("git", "hash-object", "--stdin"), cwd=ROOT, input=files + changed, capture_output=True, check=True
    )
    return named.stdout.decode()[:12]


def run(part: Part, table: Table, seconds: float, clock: Callable[[], float] = time.monotonic) -> int:
    """0 when every round passed, 1 when one did not, 3 when some are left for the next run."""
    started, longest = clock(), 0.0
    rounds = part.rounds()
    for one in rounds:
        if table.has(one.name):
            continue
        if clock() - started + longest > seconds:
            left = sum(not table.has(other.name) for other in rounds)
            print(f"{left} of {len(rounds)} rounds are left; run the same command again to go on")
            return UNFINISHED
        begun = clock()
        table.add(measure(one, table, begun, clock))
        longest = max(longest, clock() - begun)
    return 0 if all(table.passed(one.name) for one in rounds) else 1


def measure(one: Round, table: Table, begun: float, clock: Callable[[], float]) -> Row:
    print(f"== {one.name}", flush=True)
    figures = one.run(table.seed)
    row = Row(one.name, table.seed, table.version, clock() - begun, figures)
    print(row.line(), flush=True)
    return row


if __name__ == "__main__":
    sys.exit(main())
