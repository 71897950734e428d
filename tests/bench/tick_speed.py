"""One pass of the tick over a large shop: python -m tests.bench.tick_speed [jobs].

Three checks a job. Quiet: nothing is due, as in nearly every minute; a pass asks one question for all steps
and notes that it ran. Beside it bare SQL asks by hand what each step asks. Goals: ten times the jobs take at
most ten times the time and no more memory; a pass takes at most five times the bare SQL (2.5 times at 100,000
jobs), and at most a tenth of a second.

Working day: one job in a hundred has a check that is over, one whose window has opened, and one with an
appointment tomorrow. Passes go on until nothing is left. What they took, apart from composing letters and
handing them over for sending, stands beside bare SQL that finds, moves and marks the same rows with the same
history in the same run. Goals: at most five times that, and a millisecond a row. The five times are not
reached here (9 times): each row becomes an object with its job and vehicle, because a letter is written of
it. Seconds are those of this process, SQLite included, so that a machine that is busy otherwise tells the
same.
"""

import os
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any
from unittest.mock import patch

TIMES, GROWTH, FLAT_MB, QUIET_S, ROW_S, REPEATS, PORTION = 5.0, 10.0, 8.0, 0.1, 0.001, 5, 500
DAY = timedelta(days=1)
CHECK, BOOKING, VISIT = "inspections_check", "inspections_booking", "inspections_visit"


@dataclass(frozen=True, slots=True)
class Quiet:
    """Best of several passes; `grown_mb`: what the process took more while they ran."""

    jobs: int
    tick: float
    bare: float
    grown_mb: float

    def line(self) -> str:
        return (
            f"quiet  {self.jobs:>8,} jobs {3 * self.jobs:>8,} checks  tick {self.tick * 1000:6.1f} ms"
            f"  bare SQL {self.bare * 1000:5.2f} ms  memory +{self.grown_mb:.1f} MB"
        )


@dataclass(frozen=True, slots=True)
class Worked:
    """All passes of a working day. `letters`, `sending`: seconds within `tick`, and how many."""

    rows: int
    passes: int
    tick: float
    letters: float
    sending: float
    written: int
    sent: int
    bare: float

    @property
    def own(self) -> float:
        return self.tick - self.letters - self.sending

    @property
    def times(self) -> float:
        return self.own / self.bare

    def line(self) -> str:
        return (
            f"working day  {self.rows:,} rows in {self.passes} passes, {self.tick * 1000:.0f} ms together:"
            f" found, moved and marked in {self.own * 1000:.0f} ms, bare SQL {self.bare * 1000:.0f} ms,"
            f" {self.times:.2f} times; {self.written} letters, {self.letters * 1000 / self.written:.2f} ms"
            f" each; {self.sent} mails, {self.sending * 1000 / self.sent:.2f} ms each"
        )


def bare_sql() -> tuple[str, ...]:
    """What the steps about checks and messages ask, by hand. `%(now)s`: the moment, `%(today)s`: the day."""
    return (
        f"""SELECT id FROM {CHECK} c WHERE state = 'due' AND due_on < %(today)s AND window_to < %(today)s
            AND NOT EXISTS (SELECT 1 FROM {BOOKING} b WHERE b.check_due_id = c.id AND b.state = 'booked')
            AND NOT EXISTS (SELECT 1 FROM {VISIT} v WHERE v.check_due_id = c.id AND v.state = 'open')""",
        f"""SELECT c.* FROM {CHECK} c JOIN inspections_checkplan p ON p.id = c.plan_id
            WHERE state = 'due' AND offered_at IS NULL AND p.offered_to_holder
            AND window_from <= %(today)s AND window_to >= %(today)s
            AND NOT EXISTS (SELECT 1 FROM {BOOKING} b WHERE b.check_due_id = c.id AND b.state = 'booked')
            AND NOT EXISTS (SELECT 1 FROM {VISIT} v WHERE v.check_due_id = c.id AND v.state = 'open')""",
        f"""SELECT * FROM {BOOKING} WHERE state = 'booked' AND reminded_late_at IS NULL
            AND starts_at > %(now)s AND starts_at < %(soon)s""",
        f"""SELECT id FROM {BOOKING} b WHERE state = 'booked' AND starts_at < %(begins)s AND NOT EXISTS
            (SELECT 1 FROM {VISIT} v WHERE v.booking_id = b.id AND v.state IN ('open', 'finished'))""",
        f"""SELECT * FROM {BOOKING} WHERE state = 'not_kept' AND missed_said_at IS NULL
            AND changed_at <= %(settled)s AND changed_at > %(long_ago)s""",
        f"""SELECT * FROM {VISIT} WHERE state = 'finished' AND result_said_at IS NULL
            AND finished_at <= %(settled)s AND finished_at > %(long_ago)s""",
        "SELECT * FROM outbox_message WHERE state = 'sending' AND claimed_at < %(uncertain)s",
        "SELECT * FROM outbox_message WHERE state = 'waiting' AND not_before <= %(now)s",
    )


def other_sql() -> tuple[str, ...]:
    """What the remaining steps ask, shop by shop as the indexes are: small pictures, lives behind the record,
    lives to pack, certificates whose planned day moved, batches."""
    any_shop = "SELECT s.id FROM shops_shop s WHERE"
    used = "(SELECT last FROM shops_counter WHERE shop_id = s.id AND series = 'lives.line')"
    changed = "EXISTS (SELECT 1 FROM shops_change WHERE shop_id = s.id AND at"
    return (
        f"{any_shop} EXISTS (SELECT 1 FROM jobs_photo WHERE shop_id = s.id AND thumbnail_sha256 = '')",
        f"""{any_shop} {used} IS NULL OR {used} <> failure_line OR {changed} > %(fresh)s) OR EXISTS (
            SELECT 1 FROM shops_change WHERE id > COALESCE(
            (SELECT MIN(last) FROM shops_counter WHERE series = 'lives.change'), 0))""",
        f"""SELECT s.id FROM shops_shop s LEFT JOIN review_keptlives k ON k.shop_id = s.id
            WHERE k.id IS NULL OR k.packed_at < %(hour)s OR {changed} >= k.packed_at)""",
        f"""{any_shop} EXISTS (SELECT 1 FROM warranty_certificate c JOIN jobs_job j ON j.id = c.job_id
            WHERE c.shop_id = s.id AND c.state = 'issued' AND j.state = 'open'
            AND j.planned_handover_on IS NOT NULL AND j.planned_handover_on <> c.starts_on)""",
        f"""{any_shop} EXISTS
            (SELECT 1 FROM desk_certificatebatch WHERE shop_id = s.id AND finished_at IS NULL)""",
    )


def found(now: datetime, today: date, questions: tuple[str, ...] = ()) -> list[list[int]]:
    """Keys by question; every row is read."""
    from django.db import connection

    asked = {
        "fresh": now - timedelta(minutes=2),
        "hour": now - timedelta(hours=1),
        "now": now,
        "today": today,
        "begins": now.replace(hour=5, minute=0),
        "soon": now + 3 * DAY,
        "settled": now - timedelta(hours=1),
        "long_ago": now - 7 * DAY,
        "uncertain": now - timedelta(minutes=15),
    }
    keys = []
    with connection.cursor() as cursor:
        for sql in questions or bare_sql():
            cursor.execute(sql, asked)
            keys.append([row[0] for row in cursor.fetchall()])
    return keys


def worked_bare(now: datetime, today: date, shop: int) -> None:
    """Found, moved with history, and marked, as the tick does it; then all is taken back."""
    from django.db import connection, transaction

    history = """INSERT INTO shops_change (shop_id, at, who, act, "table", "row", "before", "after", why)
        VALUES (%s, %s, 'shopwarranty', 'missed', %s, %s, %s, %s, '')"""
    with transaction.atomic(), connection.cursor() as cursor:
        missed, offered, reminded, *_none = found(now, today)
        for listed in portions(missed):
            moved = f"UPDATE {CHECK} SET state = 'missed', state_why = %s, settled_at = %s"
            cursor.execute(f"{moved} WHERE id IN ({listed})", ("Its window ended without a visit.", now))
        values = [(shop, now, CHECK, pk, '{"state": "due"}', '{"state": "missed"}') for pk in missed]
        cursor.executemany(history, values)
        for listed in portions(offered):
            cursor.execute(f"UPDATE {CHECK} SET offered_at = %s WHERE id IN ({listed})", (now,))
        for listed in portions(reminded):
            cursor.execute(f"UPDATE {BOOKING} SET reminded_late_at = %s WHERE id IN ({listed})", (now,))
        transaction.set_rollback(True)


def portions(keys: list[int]) -> Iterator[str]:
    for first in range(0, len(keys), PORTION):
        yield ", ".join(map(str, keys[first : first + PORTION]))


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
        self.quiet_at = b.NOW + timedelta(minutes=30)
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
    begun = time.process_time()
    act()
    return time.process_time() - begun


def quiet(large: LargeShop, jobs: int) -> Quiet:
    now, today = large.quiet_at, large.now.date()
    run_at(now)
    bare = min(seconds(lambda: found(now, today, bare_sql() + other_sql())) for _ in range(REPEATS))
    before = resident_mb()
    ticks = [seconds(partial(run_at, now)) for _ in range(REPEATS)]
    return Quiet(jobs, min(ticks), bare, resident_mb() - before)


def run_at(now: datetime) -> None:
    from shopwarranty.outbox import tick

    failed = [each for each in tick.run(now) if not each.ok]
    assert not failed, failed


class Watch:
    """Adds up the seconds spent in a function, and what it gives."""

    def __init__(self, act: Callable[..., Any], size: Callable[[Any], int]) -> None:
        self.act, self.size = act, size
        self.seconds, self.total = 0.0, 0

    def __call__(self, *args: Any) -> Any:
        begun = time.process_time()
        given = self.act(*args)
        self.seconds += time.process_time() - begun
        self.total += self.size(given)
        return given


def working_day(large: LargeShop) -> Worked:
    """Until a pass finds nothing. What is due is counted, and worked by bare SQL, before the first."""
    from shopwarranty.inspections.writing.batches import write_many
    from shopwarranty.outbox.delivery import deliver_due

    now, today = large.now, large.now.date()
    rows = sum(map(len, found(now, today)))
    bare = min(seconds(lambda: worked_bare(now, today, large.shop.pk)) for _ in range(REPEATS))
    letters, sending = Watch(write_many, int), Watch(deliver_due, lambda tally: int(tally.sent))
    taken: list[float] = []
    writing = patch("shopwarranty.inspections.writing.steps.write_many", letters)
    with writing, patch("shopwarranty.outbox.tick.deliver_due", sending):
        while any(found(now, today)):
            taken.append(seconds(partial(run_at, now)))
            now += timedelta(minutes=1)
    spent = letters.seconds, sending.seconds
    return Worked(rows, len(taken), sum(taken), *spent, letters.total, sending.total, bare)


def measure(jobs: int) -> tuple[Quiet, Quiet, Worked]:
    """Quiet over a tenth of the jobs, quiet over all of them, and a working day."""
    with tempfile.TemporaryDirectory() as folder:
        set_up(Path(folder))
        return measured(jobs)


def measured(jobs: int) -> tuple[Quiet, Quiet, Worked]:
    from shopwarranty.outbox import tick

    large = LargeShop()
    large.grow_to(jobs // 10)
    large.make_due(1)  # the first letter reads code that every later one finds there
    for _ in range(2):
        tick.run(large.now)
    tenth = quiet(large, jobs // 10)
    large.grow_to(jobs)
    tick.run(large.now)
    whole = quiet(large, jobs)
    large.make_due(jobs // 100)
    return tenth, whole, working_day(large)


def main(jobs: int) -> int:
    tenth, whole, day = measure(jobs)
    for each in (tenth, whole, day):
        print(each.line(), flush=True)
    growth = whole.tick / tenth.tick
    print(f"quiet_ms={whole.tick * 1000:.1f}; quiet_bare_ms={whole.bare * 1000:.2f}; growth={growth:.2f}")
    print(f"rows={day.rows}; found_ms={day.own * 1000:.0f}; day_times={day.times:.2f}")
    print(f"letter_ms={day.letters * 1000 / day.written:.2f}; grown_mb={max(0.0, whole.grown_mb):.1f}")
    small = growth <= GROWTH and whole.grown_mb < FLAT_MB and whole.tick < QUIET_S
    quick = max(whole.tick / whole.bare, day.times) <= TIMES and day.own <= ROW_S * day.rows
    return 0 if small and quick else 1


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 100_000))
