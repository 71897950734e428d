"""Fifty people at once on this machine: python -m tests.bench.load [--people N] [--seconds N] [--requests N].

The web server and the worker are started with the commands of `serve`, in front of a database of their own
(DATABASE_URL with our tables, else a new file); locust plays the people, each signed in as somebody else and
bounded to this machine. Printed: each page's 95th percentile beside that of an empty signed-in page, which
is asked for in the same mix. Passed: every request was answered as it should, and the rules hold afterwards.
"""

import argparse
import csv
import json
import os
import re
import signal
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.bench.act_rounds import sent
from tests.bench.kill_rounds import ROOT, wait_for
from tests.bench.rounds import Figures, Round

THINKS = (2.0, 6.0)
SAID = re.compile(r"(\w+)=(\d+)")


@dataclass(frozen=True, slots=True)
class Line:
    """One page: requests, failures, and milliseconds at the median and the 95th percentile."""

    name: str
    requests: int
    failures: int
    median: float
    p95: float


def set_up(folder: Path) -> None:
    """Settings are read once, so the places of this run come first."""
    os.environ |= {
        "SHOPWARRANTY_DATA_DIR": str(folder),
        "SHOPWARRANTY_LOG_LEVEL": "ERROR",
        "DJANGO_SETTINGS_MODULE": "tests.bench.load_site",
    }
    import django

    django.setup()
    from django.core.management import call_command

    if "DATABASE_URL" not in os.environ:
        call_command("migrate", verbosity=0)


def make_plan(people: int, thinks: tuple[float, float], requests: int) -> dict[str, Any]:
    """Who is signed in, and what there is to look at and to do."""
    from django.utils import timezone

    from tests.bench import act_rounds, act_shop

    work = act_shop.make_shop_at_work(max(2, people // 2))
    return {
        "cookies": [act_shop.cookie_of(member) for member in colleagues(work.people.shop, people)],
        "jobs": work.jobs,
        "checks": work.checks,
        "looks": [
            (f"visits/{look.visit}/panels/{look.panel}/", act_rounds.answers_of(look)) for look in work.looks
        ],
        "times": act_shop.times_wanted(timezone.localdate()),
        "thinks": thinks,
        "requests": requests,
    }


def colleagues(shop: Any, people: int) -> Iterator[Any]:
    from django.utils import timezone

    from shopwarranty.shops.models import Member, User
    from shopwarranty.shops.scope import shop_scope

    with shop_scope(shop):
        for n in range(people):
            user = User.objects.create(email=f"person{n}@kiln.example", name=f"Person {n}")
            yield Member.objects.create(user=user, name=user.name, joined_at=timezone.now(), is_owner=True)


@contextmanager
def served(folder: Path) -> Iterator[int]:
    """Both programs as `serve` starts them. Gives the web server's port."""
    from shopwarranty.checkout.folder import Checkout
    from shopwarranty.checkout.ports import next_free
    from shopwarranty.checkout.serving import Place, programs

    port = next_free(21000 + os.getpid() % 9000)
    running = []
    try:
        for program in programs(Checkout(ROOT), Place("127.0.0.1", port)):
            with (folder / f"{program.name}.log").open("wb") as log:
                running.append(
                    subprocess.Popen(
                        program.argv, cwd=program.folder, env=program.environment,
                        stdin=subprocess.DEVNULL, stdout=log, stderr=log, start_new_session=True,
                    )
                )  # fmt: skip
        wait_for(port)
        yield port
    finally:
        for process in running:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait()


def warm_up(port: int, plan: dict[str, Any]) -> None:
    """Both processes of the web server have read code and templates, as after a morning."""
    job, check = plan["jobs"][0], plan["checks"][0]
    of_one = (f"jobs/{job}/", f"jobs/{job}/hand-over/", f"checks/{check}/", plan["looks"][0][0])
    for page in ("empty/", "", "jobs/", "certificates/", "checks/", "week/", "review/", *of_one) * 4:
        status, words = sent(port, "GET", f"/s/acts/{page}", None, plan["cookies"][0])
        assert status == 200, (page, status, words[:300])


def play(folder: Path, port: int, people: int, seconds: int) -> list[Line]:
    """Everybody has come after a fifth of the time. Raises CalledProcessError where locust itself fails."""
    command = (
        *(sys.executable, "-m", "locust", "-f", "tests/bench/load_people.py", "--headless", "--only-summary"),
        *("--users", str(people), "--spawn-rate", str(max(1.0, people / (seconds / 5)))),
        *("--run-time", f"{seconds}s", "--stop-timeout", "300", "--host", f"http://127.0.0.1:{port}"),
        *("--csv", str(folder / "load"), "--exit-code-on-error", "0", "--loglevel", "WARNING"),
    )
    environment = {**os.environ, "LOAD_PLAN": str(folder / "plan.json")}
    done = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=False)
    if done.returncode:
        print(done.stdout[-3000:], done.stderr[-3000:])
        done.check_returncode()
    if failures := (folder / "load_failures.csv").read_text().splitlines()[1:]:
        print(*failures, sep="\n")
    return read_lines(folder / "load_stats.csv")


def read_lines(path: Path) -> list[Line]:
    with path.open(newline="") as file:
        return [
            Line(
                row["Name"],
                int(row["Request Count"]),
                int(row["Failure Count"]),
                float(row["50%"]),
                float(row["95%"]),
            )
            for row in csv.DictReader(file)
            if row["50%"] != "N/A"  # nothing was answered
        ]


def report(lines: list[Line], people: int, seconds: int, wrong: list[str]) -> bool:
    """Prints the table; True when nothing failed and everybody was answered."""
    if not lines:
        print("nobody was answered")
        return False
    total = next(line for line in lines if line.name == "Aggregated")
    empty = next(line for line in lines if line.name == "empty")
    for line in lines:
        counted = f"{line.name:<16} {line.requests:6,} requests {line.failures:4} failed"
        beside = f"beside {empty.p95:.0f} ms empty, {line.p95 / max(empty.p95, 1):.1f} times"
        print(f"{counted}   median {line.median:6.0f} ms   p95 {line.p95:6.0f} ms {beside}")
    print(
        f"people={people}; seconds={seconds}; requests={total.requests}; failures={total.failures};"
        f" p95_ms={total.p95:.0f}; empty_p95_ms={empty.p95:.0f};"
        f" pages={len([line for line in lines if line is not total])}"
    )
    print(*(f"WRONG: {each}" for each in wrong), sep="\n")
    return total.failures == 0 and total.requests >= people and not wrong


def run(folder: Path, people: int, seconds: int, thinks: tuple[float, float], requests: int) -> int:
    set_up(folder)
    plan = make_plan(people, thinks, requests)
    (folder / "plan.json").write_text(json.dumps(plan))
    from django.db import connections

    connections.close_all()
    with served(folder) as port:
        warm_up(port, plan)
        lines = play(folder, port, people, seconds)
    from tests.rules import broken

    return 0 if report(lines, people, seconds, broken()) else 1


def rounds() -> tuple[Round, ...]:
    return (Round("fifty people, five minutes", lambda seed: played(50, 300, THINKS, {})),)


def played(
    people: int,
    seconds: int,
    thinks: tuple[float, float],
    environment: Mapping[str, str],
    requests: int = 0,
) -> Figures:
    """Passed, and the figures of all pages together."""
    bounds = ("--people", str(people), "--seconds", str(seconds), "--requests", str(requests))
    asked = (*bounds, "--thinks", *map(str, thinks))
    done = subprocess.run(
        (sys.executable, "-m", "tests.bench.load", *asked),
        cwd=ROOT,
        env={**os.environ, **environment},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    print(done.stdout, done.stderr[-2000:], sep="\n")
    counts = {name: int(number) for name, number in SAID.findall(done.stdout)}
    return Figures(done.returncode == 0 and counts.get("requests", 0) > 0, counts)


def main() -> int:
    parser = argparse.ArgumentParser(prog="load")
    parser.add_argument("--people", type=int, default=50)
    parser.add_argument("--seconds", type=int, default=300)
    parser.add_argument(
        "--thinks", type=float, nargs=2, default=THINKS, help="seconds on a page, from and to"
    )
    parser.add_argument("--requests", type=int, default=0, help="stop earlier after so many")
    parser.add_argument("--keep", type=Path, help="a folder for the logs, instead of one that is thrown away")
    chosen = parser.parse_args()
    with ExitStack() as stack:
        folder = chosen.keep or Path(stack.enter_context(tempfile.TemporaryDirectory()))
        folder.mkdir(parents=True, exist_ok=True)
        low, high = chosen.thinks
        return run(folder, chosen.people, chosen.seconds, (low, high), chosen.requests)


if __name__ == "__main__":
    sys.exit(main())
