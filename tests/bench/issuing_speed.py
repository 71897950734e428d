"""Issuing end to end beside bare rendering: python -m tests.bench.issuing_speed [certificates] [batch].

End to end is what an owner waits for: record, snapshot, legal checks, drawing, code, PDF, signature, hash,
rows and the mail with its attachment. Beside each one stands, in the same run, the same HTML given to
WeasyPrint with the same style sheet and fonts already loaded. Both are timed as this process's own time on
a processor, so that what else the machine does counts for neither. Goal: at most one and a half times, by
the median of the pairs. Then a batch in a process that has warmed up: no more memory however long it is.
"""

import os
import resource
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from statistics import median
from typing import Any

from tests.bench.tick_speed import resident_mb, set_up

GOAL, FLAT_MB = 1.5, 48.0
WARM = 100
"""Certificates after which caches, fonts and the allocator's pools have reached their size."""


@dataclass(frozen=True, slots=True)
class Pair:
    issuing: float
    bare: float

    @property
    def times(self) -> float:
        return self.issuing / self.bare


@dataclass(frozen=True, slots=True)
class Batch:
    issued: int
    seconds: float
    grown_mb: float


class Shop:
    """One job with a full front that left without a certificate, and as many copies as are wanted."""

    def __init__(self) -> None:
        from shopwarranty.jobs.models import Job
        from shopwarranty.shops.scope import shop_scope
        from tests.conftest import NOW, make_shop
        from tests.many_copies import Copies
        from tests.warranty.conftest import make_yard

        self.now = NOW
        self.people = make_shop(
            "issuing", name="Kiln Lane Film", street="4 Kiln Lane", town="Example City", telephone="555-0100",
            public_url="https://kiln.example", time_zone="America/New_York", legal_profile="us", is_demo=True,
        )  # fmt: skip
        with shop_scope(self.people.shop):
            yard = make_yard(self.people)
            job = yard.job(vehicle=yard.vehicle(vin="KL0", vin_kind="chassis"))
            Job.objects.filter(pk=job.pk).update(
                state="handed_over", handed_over_on=date(2026, 11, 2), handed_over_at=NOW
            )
            self.copies = Copies()

    def grow_to(self, jobs: int) -> list[int]:
        from shopwarranty.jobs.models import Job
        from shopwarranty.shops.scope import shop_scope

        with shop_scope(self.people.shop):
            self.copies.grow_to(jobs - 1)
            return list(Job.objects.order_by("pk").values_list("pk", flat=True))


def seconds(act: Callable[[], Any]) -> float:
    begun = time.process_time()
    act()
    return time.process_time() - begun


def issue_and_tell(job_id: int, shop: Shop) -> Any:
    from django.db import transaction

    from shopwarranty.desk.handover import prepared_late
    from shopwarranty.jobs.models import Job
    from shopwarranty.shops.history import Actor
    from shopwarranty.warranty.actions import issue_prepared
    from shopwarranty.warranty.telling import tell_issued

    job = Job.objects.select_related("shop", "vehicle").get(pk=job_id)
    ready = prepared_late(job, shop.now)
    with transaction.atomic():
        certificate = issue_prepared(prepared=ready, actor=Actor.of(shop.people.desk), now=shop.now)
        assert tell_issued(certificate, now=shop.now) is not None
    return certificate


def bare(certificate: Any) -> Callable[[], bytes]:
    """The same document, prepared beforehand, through WeasyPrint and nothing else."""
    from django.template.loader import render_to_string
    from django.utils import translation
    from weasyprint import HTML

    from shopwarranty.warranty import certificate_pdf as paper
    from shopwarranty.warranty.memory_fetcher import SCHEME, MemoryFetcher
    from shopwarranty.warranty.snapshot_parts import read_snapshot

    snapshot = read_snapshot(certificate.snapshot)
    with translation.override(snapshot.language):
        context, pictures = paper.page(snapshot, b"", False)
        document = render_to_string("warranty/paper/certificate.html", context)
    fonts, style = paper.prepared(snapshot)

    def render() -> bytes:
        html = HTML(string=document, url_fetcher=MemoryFetcher(pictures), base_url=SCHEME)
        return bytes(html.write_pdf(stylesheets=[style], font_config=fonts, pdf_variant="pdf/ua-1"))

    return render


def pairs(shop: Shop, jobs: list[int]) -> list[Pair]:
    from shopwarranty.shops.scope import shop_scope

    found = []
    with shop_scope(shop.people.shop):
        for job in jobs:
            made: list[Any] = []
            whole = seconds(lambda job=job, made=made: made.append(issue_and_tell(job, shop)))  # type: ignore[misc]
            alone = bare(made[0])
            found.append(Pair(whole, seconds(alone)))
    return found[1:]  # the first one loads fonts, style and the signing library


def batch(shop: Shop, jobs: list[int], warm: int) -> Batch:
    """Memory is looked at after the first ones and at the end."""
    from uuid import uuid4

    from shopwarranty.desk.batch import go_on, start_batch
    from shopwarranty.desk.models import BatchLine
    from shopwarranty.shops.history import Actor
    from shopwarranty.shops.scope import shop_scope

    def issued(some: list[int]) -> int:
        with shop_scope(shop.people.shop):
            desk = Actor.of(shop.people.desk)
            made = start_batch(jobs=some, mail=True, actor=desk, now=shop.now, uid=uuid4())
        go_on(shop.now, seconds=1e9)
        with shop_scope(shop.people.shop):
            return BatchLine.objects.filter(batch=made, state="issued").count()

    first = issued(jobs[:warm])
    before = resident_mb()
    took = seconds(lambda: first == warm or sys.exit("the first ones were not issued"))
    begun = time.process_time()
    rest = issued(jobs[warm:])
    took += time.process_time() - begun
    return Batch(first + rest, took, resident_mb() - before)


def main(single: int, together: int) -> int:
    warm = min(WARM, max(1, together // 4))
    with tempfile.TemporaryDirectory() as folder:
        set_up(Path(folder))
        shop = Shop()
        jobs = shop.grow_to(single + 1 + together)
        found = pairs(shop, jobs[: single + 1])
        done = batch(shop, jobs[single + 1 :], warm) if together else Batch(0, 0.0, 0.0)
    times = median(pair.times for pair in found)
    issuing, alone = median(pair.issuing for pair in found), median(pair.bare for pair in found)
    print(f"issuing_ms={1000 * issuing:.0f}; bare_ms={1000 * alone:.0f}")
    print(f"times={times:.2f}; certificates={len(found)}")
    print(f"batch={done.issued}; batch_seconds={done.seconds:.0f}; grown_mb={max(0.0, done.grown_mb):.1f}")
    print(f"peak_mb={resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000:.0f}")
    return 0 if times <= GOAL and done.issued == together and done.grown_mb < FLAT_MB else 1


if __name__ == "__main__":
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    numbers = [int(each) for each in sys.argv[1:]] + [20, 1000][len(sys.argv) - 1 :]
    sys.exit(main(numbers[0], numbers[1]))
