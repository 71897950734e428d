"""How fast history comes in: `python -m tests.bench.import_speed [jobs]`.

Prints rows a second of the whole import (read, checked, written, lives worked out, committed) beside the bare
bulk insert of as many places and findings into the same tables of the same database in the same run.
Goal: at least 5,000 rows a second on a shared 2-core machine, on SQLite.
"""

import os
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from resource import RUSAGE_SELF, getrusage
from typing import Any

GOAL = 5000


@dataclass(frozen=True, slots=True)
class Timed:
    """`own`: seconds of this process; `wall`: seconds on the clock, with what else the machine did."""

    rows: int
    wall: float
    own: float

    def line(self, name: str) -> str:
        return (
            f"{name:<34} {self.rows:>8,} rows  {self.wall:7.1f} s  {self.rows / self.wall:>9,.0f} rows/s"
            f"  ({self.rows / self.own:,.0f} rows per second of processor)"
        )


class Clock:
    def __enter__(self) -> "Clock":
        self.wall, self.own = time.perf_counter(), time.process_time()
        return self

    def __exit__(self, *what: object) -> None:
        self.wall, self.own = time.perf_counter() - self.wall, time.process_time() - self.own

    def timed(self, rows: int) -> Timed:
        return Timed(rows, self.wall, self.own)


def main(jobs: int) -> int:
    with tempfile.TemporaryDirectory() as folder:
        shop, place = set_up(Path(folder))
        from tests.bench.import_files import write_history

        rows, looks = write_history(place, jobs)
        load = os.getloadavg()[0]
        print(f"{jobs:,} jobs, {rows:,} rows of jobs, {looks:,} rows of findings; load before: {load:.1f}")
        everything = measure_import(shop, place, rows + looks)
        again = measure_import(shop, place, rows + looks)
        out = measure_export(shop, place)
        bare = measure_bare(shop, rows, looks)
    print(everything.line("import, all of it"))
    print(again.line("the same again, all unchanged"))
    print(out.line("export"))
    print(bare.line("bare bulk_create, same row counts"))
    print(f"import takes {everything.own / bare.own:.2f} times the processor time of the bare insert")
    print(f"peak memory {getrusage(RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")
    reached = everything.rows / everything.wall
    print(f"goal {GOAL:,} rows/s: {'reached' if reached >= GOAL else 'missed'} ({reached:,.0f})")
    return 0 if reached >= GOAL else 1


def set_up(folder: Path) -> tuple[Any, Path]:
    os.environ["SHOPWARRANTY_DATA_DIR"] = str(folder)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopwarranty.settings")
    import django

    django.setup()
    from django.core.management import call_command
    from django.utils import timezone

    from shopwarranty.shops.models import Shop

    call_command("migrate", verbosity=0)
    return Shop.objects.create(slug="speed", name="Speed", created_at=timezone.now()), folder


def measure_import(shop: Any, folder: Path, rows: int) -> Timed:
    from django.utils import timezone

    from shopwarranty.desk.flat.checking import Files
    from shopwarranty.desk.flat.importing import import_files
    from shopwarranty.shops.history import Actor
    from shopwarranty.shops.scope import shop_scope

    files = Files(folder / "jobs.csv", folder / "findings.csv")
    with shop_scope(shop), Clock() as clock:
        import_files(files=files, shop=shop, actor=Actor("bench"), now=timezone.now())
    return clock.timed(rows)


def measure_export(shop: Any, folder: Path) -> Timed:
    from shopwarranty.desk.flat.exporting import export_findings, export_jobs
    from shopwarranty.shops.scope import shop_scope

    with (
        shop_scope(shop),
        Clock() as clock,
        (folder / "out.csv").open("w", newline="") as jobs,
        (folder / "out2.csv").open("w", newline="") as findings,
    ):
        rows = export_jobs(shop, jobs)[1] + export_findings(findings)
    return clock.timed(rows)


def measure_bare(shop: Any, places: int, findings: int) -> Timed:
    """Places of one piece and findings of as many visits as that takes; nothing read, checked or derived."""
    from django.db import transaction

    from shopwarranty.inspections.models import Finding, Visit
    from shopwarranty.jobs.models import FilmPiece, Place
    from shopwarranty.shops.scope import shop_scope

    with shop_scope(shop):
        piece, visit = FilmPiece.objects.first(), Visit.objects.first()
        assert piece is not None
        assert visit is not None
        values = {
            "post_heated": True,
            "post_heated_basis": "imported",
            "passes": 2,
            "passes_basis": "imported",
        }
        with Clock() as clock, transaction.atomic():
            made = Place.objects.bulk_create(
                [Place(piece=piece, key=f"x{n}", kind="edge", walk=1, **values) for n in range(places)],
                batch_size=2000,
            )
            for first in range(0, findings, places):
                later = Visit.objects.create(
                    job=visit.job,
                    origin="walk_in",
                    state="finished",
                    happened_on=visit.happened_on,
                    started_at=visit.started_at,
                    entered_at=visit.entered_at,
                )
                Finding.objects.bulk_create(
                    [
                        Finding(
                            visit=later, place=place, result="clean", said="imported", at=visit.started_at
                        )
                        for place in made[: findings - first]
                    ],
                    batch_size=2000,
                )
    return clock.timed(places + findings)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000))
