"""A thousand shops in one PostgreSQL: python -m tests.bench.many_shops [shops].

One shop of some five thousand places is made by the program's own acts and copies of its jobs; then whole
shops are copied inside the database. At a hundredth, a tenth and all of the shops, pages of shops drawn at
random and one pass of the tick are measured beside the empty page, and every statement that a page makes is
explained by the database as it runs (EXPLAIN ANALYZE, BUFFERS), without row security and with it.

Asserted of each plan: no table of many rows is read without a condition of an index, and no step reads more
rows of it at a time than one shop has. Blocks touched, which a busy machine does not change, grow at most by
half from the fewest shops to all of them. The tick serves all shops: it is held to
conditions of indexes alone.
"""

import json
import os
import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final
from unittest.mock import patch

from tests.bench.page_speed import Took, Visitor, cookie_of, job_in_the_bay, job_that_left, p95, short_paper
from tests.bench.tick_speed import set_up

FRONTS, LOOKED, PAIRS, EXPLAINED, MANY_ROWS, GROWTH = 85, 10, 12, 4, 20_000, 1.5
SERVER: Final = (
    "shared_buffers=1GB",
    "max_wal_size=16GB",
    "checkpoint_timeout=1h",
    "autovacuum=off",
    "jit=off",
)
Node = Mapping[str, Any]


@dataclass(slots=True)
class Plans:
    """What the database did for the statements of one page. `rows`: of one shop, by table."""

    rows: Mapping[str, int]
    tables: Mapping[str, str]
    faults: list[str] = field(default_factory=list)
    blocks: int = 0
    by_shop: int = 0
    by_key: int = 0

    def explain(self, execute: Any, sql: Any, params: Any, many: bool, context: Any) -> Any:
        """Wraps each statement. Only what reads is run twice."""
        if str(sql).lstrip().upper().startswith("SELECT") and not many:
            with context["connection"].connection.cursor() as cursor:
                cursor.execute(f"EXPLAIN (ANALYZE, BUFFERS, FORMAT JSON) {sql}", params)
                said = cursor.fetchone()[0]
            plan = (json.loads(said) if isinstance(said, str) else said)[0]["Plan"]
            self.blocks += plan["Shared Hit Blocks"] + plan["Shared Read Blocks"]
            for node in every_node(plan):
                self.look_at(node, str(sql))
        return execute(sql, params, many, context)

    def look_at(self, node: Node, sql: str) -> None:
        table = node.get("Relation Name") or self.tables.get(node.get("Index Name", ""), "")
        if table not in self.rows:
            return
        read = node["Actual Rows"] + sum(
            node.get(f"Rows Removed by {why}", 0) for why in ("Filter", "Index Recheck")
        )
        condition = node.get("Index Cond", "")
        if node["Node Type"] != "Bitmap Heap Scan":
            self.by_shop += "shop_id =" in condition
            self.by_key += bool(condition) and "shop_id =" not in condition
            if not condition and node["Actual Loops"]:
                self.faults.append(f"{node['Node Type']} of {table} without a condition: {sql[:400]}")
        if read > self.rows[table]:
            self.faults.append(f"{read} rows of {table} by {condition or node['Node Type']}: {sql[:400]}")


def every_node(plan: Node) -> Iterator[Node]:
    yield plan
    for below in plan.get("Plans", ()):
        yield from every_node(below)


@dataclass(frozen=True, slots=True)
class Measured:
    name: str
    shops: int
    secured: bool
    empty: Took
    took: Took
    plans: Plans

    def line(self) -> str:
        took, empty, plans = self.took, self.empty, self.plans
        return (
            f"{self.shops:>6,} shops  {self.name:<18} p95 {took.own:6.1f} ms own {took.wall:7.1f} ms wall"
            f"   empty {empty.own:5.1f} {empty.wall:6.1f}   blocks {plans.blocks:>6,}"
            f"   by shop {plans.by_shop:>3} by key {plans.by_key:>3}   faults {len(plans.faults)}"
            f"{'   with row security' if self.secured else ''}"
        )


class Hosted:
    """The shops, from one that is a pattern."""

    def __init__(self) -> None:
        from shopwarranty.shops.scope import every_shop, shop_scope
        from tests.conftest import make_shop

        people = make_shop(
            "kiln", name="Kiln Lane Film", street="4 Kiln Lane", town="Example City", telephone="555-0100",
            email="desk@kiln.example", public_url="https://kiln.example", time_zone="America/New_York",
            units="us", currency="USD", legal_profile="us", certificate_prefix="KL",
        )  # fmt: skip
        self.people = people
        with shop_scope(people.shop), short_paper():
            self.fill()
        with every_shop():
            self.shops = self.pattern()

    def fill(self) -> None:
        """Nothing is left for the tick to do: what a quiet pass costs is the asking."""
        from shopwarranty.inspections.models import Check
        from shopwarranty.outbox.models import Message
        from shopwarranty.trade.catalogue import USUAL_FRONT
        from tests.bench.page_speed import own_columns
        from tests.conftest import NOW
        from tests.many_copies import COPIED
        from tests.set_copies import Pattern, highest
        from tests.warranty.conftest import make_yard

        yard, own, ends = make_yard(self.people), own_columns(), [highest(COPIED)]
        job_that_left(yard, USUAL_FRONT, looked=False)
        ends.append(highest(COPIED))
        job_that_left(yard)
        ends.append(highest(COPIED))
        job_in_the_bay(yard)
        for before, until, copies in zip(ends, ends[1:], (FRONTS, LOOKED), strict=False):
            Pattern(until, highest(COPIED), own, before).grow_to(copies)
        Check.objects.filter(offered_at__isnull=True).update(offered_at=NOW)
        Message.objects.update(state="sent")

    def pattern(self) -> Any:
        from django.apps import apps

        from shopwarranty.shops.models import Shop, User
        from shopwarranty.shops.rows import ShopOwned
        from shopwarranty.warranty.models import Certificate
        from tests.set_copies import Pattern, highest

        owned = [model for model in apps.get_models() if issubclass(model, ShopOwned)]
        found = {model: most for model, most in highest([Shop, User, *owned]).items() if most}
        return Pattern(found, found, {(Certificate, "code"): "p.code || (100000 + n.k)"})

    def grow_to(self, shops: int) -> None:
        from django.db import connection

        from shopwarranty.shops.scope import every_shop

        with every_shop():  # row security, where it is on, shows them all
            self.shops.grow_to(shops - 1)
        with connection.cursor() as cursor:
            cursor.execute("VACUUM ANALYZE")

    def large_tables(self) -> tuple[dict[str, int], dict[str, str]]:
        """Rows of one shop by table, of tables with many rows; and the table of each of their indexes."""
        from django.db import connection

        from shopwarranty.shops.scope import every_shop

        with every_shop(), connection.cursor() as cursor:
            cursor.execute(
                "SELECT relname, reltuples FROM pg_class WHERE relkind = 'r' AND reltuples > %s", [MANY_ROWS]
            )
            large = [name for name, _ in cursor.fetchall()]
            rows = {}
            for model in self.shops.step:
                table = model._meta.db_table
                if table in large and any(each.column == "shop_id" for each in model._meta.local_fields):
                    cursor.execute(
                        f'SELECT COUNT(*) FROM "{table}" WHERE shop_id = %s', [self.people.shop.pk]
                    )
                    rows[table] = int(cursor.fetchone()[0])
            cursor.execute("SELECT indexname, tablename FROM pg_indexes")
            tables = dict(cursor.fetchall())
        return rows, tables


@dataclass(frozen=True, slots=True)
class Door:
    """A shop that is looked at: its cookie, and its pages by name."""

    visitor: Visitor
    empty: str
    pages: Mapping[str, tuple[str, bool]]


def door(slug: str) -> Door:
    from django.urls import reverse

    from shopwarranty.inspections.models import Check
    from shopwarranty.jobs.models import Job
    from shopwarranty.shops.models import Member, Shop
    from shopwarranty.shops.scope import shop_scope
    from shopwarranty.warranty.models import Certificate

    with shop_scope(Shop.objects.get(slug=slug)):
        owner = Member.objects.select_related("user").get(is_owner=True)
        job = Job.objects.filter(state="open").earliest("pk")
        check = Check.objects.filter(state="due", bookings=None).earliest("pk")
        paper = Certificate.objects.latest("pk")
    pages = {
        "issuing": (reverse("hand-over", args=[slug, job.pk]), True),
        "certificate": (reverse("certificate", args=[slug, paper.pk]), True),
        "public certificate": (reverse("public-certificate", args=[paper.number, paper.code]), False),
        "booking": (reverse("book-check", args=[slug, check.pk]), True),
        "review": (reverse("review", args=[slug]), True),
        "home": (reverse("today", args=[slug]), True),
        "search": (reverse("search", args=[slug]) + "?q=example", True),
    }
    return Door(Visitor(cookie_of(owner)), f"/s/{slug}/empty/", pages)


def drawn(shops: int, seed: int) -> list[str]:
    draw = random.Random(f"{seed} {shops}")
    return ["kiln" if n == 0 else f"kiln-{n}" for n in draw.sample(range(shops), min(shops, EXPLAINED))]


def measure(hosted: Hosted, shops: int, seed: int, *, secured: bool) -> Iterator[Measured]:
    from django.db import connection

    doors = [door(slug) for slug in drawn(shops, seed)]
    rows, tables = hosted.large_tables()
    for name in doors[0].pages:
        pairs = list(taken(doors, name))
        plans = Plans(rows, tables)
        with connection.execute_wrapper(plans.explain):
            for each in doors:
                each.visitor.get(each.pages[name][0], signed_in=each.pages[name][1])
        plans.blocks //= len(doors)  # at few shops fewer of them are looked at
        yield Measured(
            name, shops, secured, p95([one for one, _ in pairs]), p95([two for _, two in pairs]), plans
        )
    yield tick(hosted, shops, rows, tables, secured=secured)


def taken(doors: Sequence[Door], name: str) -> Iterator[tuple[Took, Took]]:
    """Turn and turn about, shop by shop; the first of each shop warms."""
    for nth in range(PAIRS):
        each = doors[nth % len(doors)]
        address, signed_in = each.pages[name]
        pair = each.visitor.get(each.empty), each.visitor.get(address, signed_in=signed_in)
        if nth >= len(doors):
            yield pair


def tick(hosted: Hosted, shops: int, rows: Any, tables: Any, *, secured: bool) -> Measured:
    """A pass with nothing due; it serves all shops, so what it reads is told and not held to one shop."""
    from django.db import connection

    from tests.bench.tick_speed import run_at
    from tests.conftest import NOW

    run_at(NOW)
    wall, own = time.perf_counter(), time.process_time()
    run_at(NOW)
    took = Took(1000 * (time.perf_counter() - wall), 1000 * (time.process_time() - own))
    plans = Plans(dict.fromkeys(rows, 10**12), tables)
    with connection.execute_wrapper(plans.explain):
        run_at(NOW)
    return Measured("tick", shops, secured, Took(0, 0), took, plans)


def measured(shops: int, seed: int) -> list[Measured]:
    from django.test import override_settings

    from shopwarranty.shops import row_security
    from tests.conftest import NOW

    hosted, found = Hosted(), list[Measured]()
    with (
        patch("django.utils.timezone.now", lambda: NOW),
        override_settings(ROOT_URLCONF="tests.bench.empty_page"),
    ):
        for many in sorted({max(2, shops // 100), max(2, shops // 10), shops}):
            begun = time.perf_counter()
            hosted.grow_to(many)
            print(f"{many:,} shops after {time.perf_counter() - begun:.0f} s; {size()}", flush=True)
            for secured in (False, True):
                (row_security.lock if secured else row_security.unlock)("default")
                for each in measure(hosted, many, seed, secured=secured):
                    print(each.line(), flush=True)
                    found.append(each)
            row_security.unlock("default")
    return found


def size() -> str:
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute("SELECT reltuples::bigint FROM pg_class WHERE relname = 'jobs_place'")
        places = int(cursor.fetchone()[0])
        cursor.execute("SELECT SUM(reltuples)::bigint FROM pg_class WHERE relkind = 'r'")
        rows = int(cursor.fetchone()[0])
        cursor.execute("SELECT pg_database_size(current_database()) / 1000000")
        return f"{places:,} places, {rows:,} rows, {int(cursor.fetchone()[0]):,} MB"


@contextmanager
def database(folder: Path) -> Iterator[None]:
    from tests.throwaway_postgres import FAST, ROLE, programs, server

    with server((*FAST, *SERVER)) as address:
        os.environ |= {"DATABASE_URL": address, "SHOPWARRANTY_PUBLIC_READ_A_MINUTE": "1000000"}
        admin = address.replace(f"//{ROLE}:", "//postgres:").replace("postgres://", "postgresql://", 1)
        may = f"GRANT SET ON PARAMETER session_replication_role TO {ROLE}"
        subprocess.run([str(programs() / "psql"), "-q", admin, "-c", may], check=True)
        set_up(folder)
        yield
        from django.db import connections

        connections.close_all()


def faults(found: Sequence[Measured]) -> list[str]:
    """Plans that reach beyond one shop, and pages whose blocks grow with the number of shops."""
    said = [f"{each.name} at {each.shops}: {fault}" for each in found for fault in each.plans.faults]
    least = min(each.shops for each in found)
    for each in found:
        few = next(o for o in found if (o.name, o.secured, o.shops) == (each.name, each.secured, least))
        if each.name != "tick" and each.plans.blocks > GROWTH * few.plans.blocks:
            said.append(
                f"{each.name} at {each.shops}: {each.plans.blocks} blocks, at {least} {few.plans.blocks}"
            )
    return sorted(set(said))


def figures(found: Sequence[Measured]) -> str:
    named = ((each.name.replace(" ", "_"), each) for each in found)
    return "\n".join(
        f"{name}_wall_ms={each.took.wall:.1f}; {name}_blocks={each.plans.blocks}" for name, each in named
    )


def main(shops: int, seed: int) -> int:
    with tempfile.TemporaryDirectory() as folder, database(Path(folder)):
        from django.core.management import call_command

        call_command("collectstatic", verbosity=0, interactive=False)
        found = measured(shops, seed)
    wrong = faults(found)
    print("\n".join(wrong))
    print(figures([each for each in found if each.shops == shops and not each.secured]))
    print(f"faults={len(wrong)}")
    return 1 if wrong else 0


if __name__ == "__main__":
    numbers = [int(each) for each in sys.argv[1:]] + [1000, 20261125][len(sys.argv) - 1 :]
    sys.exit(main(numbers[0], numbers[1]))
