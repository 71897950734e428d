"""One pass of the tick over a large shop: python -m tests.bench.tick_speed [jobs].

Three checks a job. Beside each pass stands, in the same run on the same rows, the bare SQL that finds the
rows it works on, read into a list. Quiet: nothing is due, as in nearly every minute. Busy: a thousand rows
are, and each is moved with its history, or written to and sent. Goals: ten times the jobs take at most ten
times the time and no more memory; a pass takes at most five times the bare SQL.
"""

import os
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

GOAL, GROWTH, FLAT_MB, REPEATS = 5.0, 10.0, 8.0, 5
DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Timed:
    """Best of several passes; `grown_mb`: what the process took more while they ran."""

    jobs: int
    checks: int
    rows: int
    tick: float
    bare: float
    grown_mb: float

    @property
    def times(self) -> float:
        return self.tick / self.bare

    def line(self, name: str) -> str:
        return (
            f"{name:<6} {self.jobs:>8,} jobs {self.checks:>8,} checks {self.rows:>6,} rows found"
            f"  tick {self.tick * 1000:8.1f} ms  bare {self.bare * 1000:8.1f} ms"
            f"  {self.times:6.2f} times  memory +{self.grown_mb:.1f} MB"
        )


def bare_sql() -> tuple[str, ...]:
    """What the steps about checks and messages ask, by hand. `%(now)s`: the moment, `%(today)s`: the day."""
    check, booking, visit = "inspections_check", "inspections_booking", "inspections_visit"
    return (
        f"""SELECT id FROM {check} c WHERE state = 'due' AND due_on < %(today)s AND window_to < %(today)s
            AND NOT EXISTS (SELECT 1 FROM {booking} b WHERE b.check_due_id = c.id AND b.state = 'booked')
            AND NOT EXISTS (SELECT 1 FROM {visit} v WHERE v.check_due_id = c.id AND v.state = 'open')""",
        f"""SELECT id FROM {booking} b WHERE state = 'booked' AND starts_at < %(begins)s AND NOT EXISTS
            (SELECT 1 FROM {visit} v WHERE v.booking_id = b.id AND v.state IN ('open', 'finished'))""",
        f"""SELECT c.* FROM {check} c JOIN inspections_checkplan p ON p.id = c.plan_id
            WHERE state = 'due' AND offered_at IS NULL AND p.offered_to_holder
            AND window_from <= %(today)s AND window_to >= %(today)s
            AND NOT EXISTS (SELECT 1 FROM {booking} b WHERE b.check_due_id = c.id AND b.state = 'booked')
            AND NOT EXISTS (SELECT 1 FROM {visit} v WHERE v.check_due_id = c.id AND v.state = 'open')""",
        f"""SELECT * FROM {booking} WHERE state = 'booked' AND reminded_late_at IS NULL
            AND starts_at > %(now)s AND starts_at < %(soon)s""",
        f"""SELECT * FROM {booking} WHERE state = 'not_kept' AND missed_said_at IS NULL
            AND changed_at <= %(settled)s AND changed_at > %(long_ago)s""",
        f"""SELECT * FROM {visit} WHERE state = 'finished' AND result_said_at IS NULL
            AND finished_at <= %(settled)s AND finished_at > %(long_ago)s""",
        "SELECT * FROM outbox_message WHERE state = 'sending' AND claimed_at < %(uncertain)s",
        "SELECT * FROM outbox_message WHERE state = 'waiting' AND not_before <= %(now)s",
    )


def found(now: datetime, today: date) -> int:
    from django.db import connection

    asked = {
        "now": now,
        "today": today,
        "begins": now.replace(hour=5, minute=0),
        "soon": now + 3 * DAY,
        "settled": now - timedelta(hours=1),
        "long_ago": now - 7 * DAY,
        "uncertain": now - timedelta(minutes=15),
    }
    rows = 0
    with connection.cursor() as cursor:
        for sql in bare_sql():
            cursor.execute(sql, asked)
            rows += len(cursor.fetchall())
    return rows


def set_up(folder: Path) -> None:
    os.environ["SHOPWARRANTY_DATA_DIR"] = str(folder)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopwarranty.settings")
    import django

    django.setup()
    from django.core.management import call_command

    call_command("migrate", verbosity=0)


class LargeShop:
    """Copies of one job with three checks: one done, one to come, one far ahead."""

    def __init__(self) -> None:
        from shopwarranty.shops.scope import shop_scope
        from tests import builders as b
        from tests.conftest import make_shop
        from tests.many_copies import Copies

        shop = make_shop("large", name="Large", email="desk@large.example", time_zone="America/New_York").shop
        self.now, self.shop = b.NOW, shop
        with shop_scope(shop):
            job = b.a_job(panels=(), handed_over_on=b.days_ago(60))
            for days, state in ((-46, "done"), (400, "due"), (800, "due")):
                b.a_check(job, due_on=b.TODAY + days * DAY, state=state)
            self.copies = Copies()

    def grow_to(self, jobs: int) -> None:
        from django.db import connection

        from shopwarranty.shops.scope import shop_scope

        with shop_scope(self.shop):
            self.copies.grow_to(jobs - 1)
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")

    def make_due(self, each: int) -> None:
        """So many checks whose window is over, whose window has opened, and with an appointment tomorrow."""
        from shopwarranty.inspections.models import Booking, Check
        from shopwarranty.shops.scope import shop_scope

        today = self.now.date()
        with shop_scope(self.shop):
            ahead = Check.objects.filter(state="due", due_on__lt=today + 600 * DAY)
            ids = list(ahead.order_by("pk").values_list("pk", flat=True)[: 3 * each])
            self.dated(ids[:each], today - 20 * DAY)
            self.dated(ids[each : 2 * each], today + 3 * DAY)
            starts = self.now + DAY
            Booking.objects.bulk_create(
                Booking(
                    check_due_id=pk,
                    starts_at=starts,
                    starts_local=f"{starts - timedelta(hours=5):%Y-%m-%dT%H:%M}",
                    zone="America/New_York",
                    minutes=45,
                    lane=lane,
                    booked_at=self.now - 9 * DAY,
                    changed_at=self.now - 9 * DAY,
                )
                for lane, pk in enumerate(ids[2 * each :])
            )

    def dated(self, ids: list[int], due: date) -> None:
        from shopwarranty.inspections.models import Check

        rows = Check.objects.filter(pk__in=ids)
        rows.update(due_on=due, window_from=due - 7 * DAY, window_to=due + 14 * DAY)


def resident_mb() -> float:
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def seconds(act: Callable[[], Any]) -> float:
    begun = time.perf_counter()
    act()
    return time.perf_counter() - begun


def passes(large: LargeShop, jobs: int, repeats: int = REPEATS) -> Timed:
    """A busy pass changes what it finds, so it is timed once; its rows are counted and timed before it."""
    from shopwarranty.outbox import tick

    now, today = large.now, large.now.date()
    rows = found(now, today)
    bare = min(seconds(lambda: found(now, today)) for _ in range(REPEATS))
    before = resident_mb()
    ticks = [seconds(lambda: must_work(tick.run(now))) for _ in range(repeats)]
    return Timed(jobs, 3 * jobs, rows, min(ticks), bare, resident_mb() - before)


def must_work(results: Any) -> None:
    failed = [each for each in results if not each.ok]
    assert not failed, failed


def measure(jobs: int, each: int = 333) -> tuple[Timed, Timed, Timed]:
    """Quiet over a tenth of the jobs, quiet over all of them, busy over all of them."""
    with tempfile.TemporaryDirectory() as folder:
        set_up(Path(folder))
        return measured(jobs, each)


def measured(jobs: int, each: int) -> tuple[Timed, Timed, Timed]:
    from shopwarranty.outbox import tick

    large = LargeShop()
    large.grow_to(jobs // 10)
    tick.run(large.now)
    tenth = passes(large, jobs // 10)
    large.grow_to(jobs)
    tick.run(large.now)
    quiet = passes(large, jobs)
    large.make_due(each)
    return tenth, quiet, passes(large, jobs, repeats=1)


def main(jobs: int) -> int:
    tenth, quiet, busy = measure(jobs)
    for name, each in (("quiet", tenth), ("quiet", quiet), ("busy", busy)):
        print(each.line(name))
    growth = quiet.tick / tenth.tick
    print(f"quiet_ms={quiet.tick * 1000:.1f}; busy_ms={busy.tick * 1000:.1f}; rows={busy.rows}")
    print(f"growth={growth:.2f}; quiet_times={quiet.times:.1f}; busy_times={busy.times:.1f}")
    print(f"grown_mb={max(0.0, quiet.grown_mb):.1f}")
    small = growth <= GROWTH and quiet.grown_mb < FLAT_MB
    return 0 if small and max(quiet.times, busy.times) <= GOAL else 1


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 100_000))
