"""Pages beside an empty signed-in one: python -m tests.bench.page_speed [jobs].

At a tenth of the jobs and at all of them, in one process and one file of SQLite, through the program's own
middleware: every request of a page stands beside one of an empty page (a view that says nothing, signed in),
so that both meet the same machine. Rows are drawn from the whole shop. Times are told by the clock, and as
this process's own time on a processor, which tells the same on a machine that is busy otherwise.

Goals at the 95th of a hundred requests: home, search, certificate and public certificate at most three times
the empty page and ten milliseconds more; job and check at most forty milliseconds more; no page asks the
database more than twelve times.
"""

import os
import random
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Any
from unittest.mock import patch

from tests.bench.tick_speed import set_up

TIMES, MORE_MS, FLAT_MS, MOST_ASKED = 3.0, 10.0, 40.0, 12
PAIRS, WARM, SLUG, PREFIX = 100, 5, "kiln", "KL"
A_DAY, DAYS, LATE = 10, 3650, 28  # appointments a day; checks fall due within ten years
EMPTY = f"/s/{SLUG}/empty/"
STRANGER = "203.0.113.9"  # RFC 5737: nobody's address; pages for strangers are counted by it


@dataclass(frozen=True, slots=True)
class Took:
    """Milliseconds by the clock and on a processor."""

    wall: float
    own: float


@dataclass(frozen=True, slots=True)
class Page:
    """`flat`: measured as so much more than the empty page, not as a multiple. `addresses`: drawn anew."""

    name: str
    address: Callable[[random.Random], str]
    flat: bool = False
    signed_in: bool = True

    def allowed(self, empty: float) -> float:
        return empty + FLAT_MS if self.flat else TIMES * empty + MORE_MS


@dataclass(frozen=True, slots=True)
class Measured:
    page: Page
    jobs: int
    empty: Took
    took: Took
    asked: int

    @property
    def reached(self) -> bool:
        """By its own time: the clock counts, of a busy machine, whatever else it does."""
        return self.took.own <= self.page.allowed(self.empty.own) and self.asked <= MOST_ASKED

    def line(self) -> str:
        took, empty, most = self.took, self.empty, self.page.allowed
        return (
            f"{self.jobs:>8,} jobs  {self.page.name:<19} own p95 {took.own:6.1f} ms"
            f" = {took.own / empty.own:4.2f} x {empty.own:5.1f}, at most {most(empty.own):6.1f}"
            f"   by the clock {took.wall:7.1f} = {took.wall / empty.wall:4.2f} x {empty.wall:6.1f},"
            f" at most {most(empty.wall):7.1f}   asked {self.asked:2}"
            f"   {'reached' if self.reached else 'MISSED'}"
        )


class Visitor:
    """Asks the program as a server does. `cookie`: what a browser of somebody signed in would send."""

    def __init__(self, cookie: str) -> None:
        from django.core.wsgi import get_wsgi_application

        self.cookie, self.program = cookie, get_wsgi_application()

    def get(self, address: str, *, signed_in: bool = True) -> Took:
        environ = self.environ(address, signed_in)
        wall, own = time.perf_counter(), time.process_time()
        status = self.answer(environ)
        took = Took(1000 * (time.perf_counter() - wall), 1000 * (time.process_time() - own))
        assert status in ("200 OK", "302 Found"), (address, status)  # one exact hit of a search leads there
        return took

    def answer(self, environ: dict[str, Any]) -> str:
        said: list[str] = []
        response = self.program(environ, lambda status, *more: said.append(status))  # type: ignore[arg-type]
        for _part in response:
            pass
        response.close()  # what a server does; the connection to the database ends here
        return said[0]

    def environ(self, address: str, signed_in: bool) -> dict[str, Any]:
        path, _, query = address.partition("?")
        return {
            "REQUEST_METHOD": "GET",
            "PATH_INFO": path,
            "QUERY_STRING": query,
            "SERVER_NAME": "localhost",
            "SERVER_PORT": "80",
            "SERVER_PROTOCOL": "HTTP/1.1",
            "REMOTE_ADDR": STRANGER,
            "HTTP_COOKIE": self.cookie if signed_in else "",
            "HTTP_ACCEPT_LANGUAGE": "en",
            "wsgi.url_scheme": "http",
            "wsgi.input": BytesIO(),
            "wsgi.errors": sys.stderr,
        }


class LargeShop:
    """Of a hundred jobs one stands in the bay with its whole front, and one vehicle has a time for its check.

    The others left, were looked at, showed a defect, and have a check ahead within ten years; some are late.
    """

    def __init__(self) -> None:
        from shopwarranty.shops.scope import shop_scope
        from tests.conftest import make_shop

        self.people = make_shop(
            SLUG, name="Kiln Lane Film", street="4 Kiln Lane", town="Example City", telephone="555-0100",
            email="desk@kiln.example", public_url="https://kiln.example", time_zone="America/New_York",
            units="us", currency="USD", legal_profile="us", certificate_prefix=PREFIX,
        )  # fmt: skip
        with shop_scope(self.people.shop), short_paper():
            self.left, self.here = self.patterns()

    def patterns(self) -> tuple[Any, Any]:
        from tests.many_copies import COPIED
        from tests.set_copies import Pattern, highest
        from tests.warranty.conftest import make_yard

        yard = make_yard(self.people)
        before = highest(COPIED)
        job_that_left(yard)
        between = highest(COPIED)
        job_in_the_bay(yard)
        after = highest(COPIED)
        own = own_columns()
        return Pattern(between, after, own, before), Pattern(after, after, own, between)

    def grow_to(self, jobs: int) -> None:
        self.left.grow_to(jobs - 2 - jobs // 100)
        self.here.grow_to(jobs // 100)

    def pages(self) -> tuple[Page, ...]:
        from django.urls import reverse

        from shopwarranty.inspections.models import Check
        from shopwarranty.jobs.models import Job, Plate
        from shopwarranty.shops.scope import shop_scope
        from shopwarranty.warranty.models import Certificate

        with shop_scope(self.people.shop):
            jobs = list(Job.objects.values_list("pk", flat=True))
            here = list(Job.objects.filter(state="open").values_list("pk", flat=True))
            checks = list(Check.objects.values_list("pk", flat=True))
            papers = list(Certificate.objects.values_list("pk", "number", "code"))
            plates = list(Plate.objects.values_list("text", flat=True))
        finding = reverse("search", args=[SLUG]) + "?q="
        words = (
            lambda draw: draw.choice(plates),
            lambda draw: draw.choice(papers)[1],
            lambda draw: "example",
            lambda draw: f"nobody {draw.random():.6f}",
            lambda draw: f"{draw.randrange(10**6):06}",
        )
        return (
            Page("home", lambda draw: reverse("today", args=[SLUG])),
            Page("search", lambda draw: finding + draw.choice(words)(draw).replace(" ", "+")),
            Page("certificate", lambda draw: reverse("certificate", args=[SLUG, draw.choice(papers)[0]])),
            Page(
                "public certificate",
                lambda draw: reverse("public-certificate", args=draw.choice(papers)[1:]),
                signed_in=False,
            ),
            Page(
                "job",
                lambda draw: reverse("job", args=[SLUG, draw.choice(draw.choice((jobs, here)))]),
                flat=True,
            ),
            Page("check", lambda draw: reverse("check", args=[SLUG, draw.choice(checks)]), flat=True),
        )


def job_that_left(
    yard: Any, panels: Sequence[str] = ("bonnet", "left-front-door"), *, looked: bool = True
) -> None:
    """With its certificate; `looked`: at a check since, which found something."""
    from shopwarranty.defects.lives import rebuild_lives
    from shopwarranty.desk.handover import hand_over
    from shopwarranty.shops.history import Actor
    from tests import builders as b

    job = yard.job(
        panels=panels, vehicle=yard.vehicle(plate=f"7FN {len(panels)}", vin=f"0DEMXWRA1TF{len(panels):06}")
    )
    hand_over(job=job, actor=Actor.of(yard.people.desk), now=b.NOW, reasons={"no_look": "waits"})
    if looked:
        b.looked_at(job, b.TODAY, {"window": 3})
        rebuild_lives()


def job_in_the_bay(yard: Any) -> None:
    """With nearly all of a front finished; and a vehicle on the road with a time for its check."""
    from shopwarranty.trade.catalogue import USUAL_FRONT
    from tests import builders as b

    vehicle = yard.vehicle(plate="8GP 115", vin="0DEMXWRA1TF000124")
    yard.job(vehicle=vehicle, finished=USUAL_FRONT[1:])
    away = b.a_job(handed_over_on=b.days_ago(14))
    b.a_booking(b.a_check(away, due_on=b.TODAY), on=b.TODAY, lane=2)


def own_columns() -> Any:
    """What differs in each copy: numbers, days, times. Certificates count from a million on, by pattern."""
    from shopwarranty.defects.models import Defect
    from shopwarranty.inspections.models import BookedQuarter, Booking, Check
    from shopwarranty.jobs.models import Job, Plate, Vehicle
    from shopwarranty.outbox.models import Message
    from shopwarranty.warranty.models import Certificate
    from tests.set_copies import days_later, minutes_later

    letters, running = "".join(str(int(letter, 36)) for letter in PREFIX), "(p.id * 1000000 + n.k)"
    digits = f"(98 - CAST('{letters}26' || {running} || '00' AS bigint) % 97)"  # ISO/IEC 7064 MOD 97-10
    zero = f"CASE WHEN {digits} < 10 THEN '0' ELSE '' END"
    number = f"'{PREFIX}-26-' || {running} || '-' || {zero} || {digits}"
    times = f"(n.k / {A_DAY}) * 1440 + (n.k % {A_DAY}) * 45"
    moved = {
        (Check, name): days_later(f"p.{name}", f"n.k % {DAYS} - {LATE}")
        for name in ("due_on", "window_from", "window_to")
    }
    return {
        **moved,
        (Job, "ref"): "p.ref || '-' || n.k",
        (Vehicle, "vin"): "substr(p.vin, 1, 9) || (10000000 + p.id * 1000000 + n.k)",
        (Plate, "text"): "p.text || '-' || n.k",
        (Plate, "searched"): "p.searched || n.k",
        (Defect, "number"): "p.number || '-' || n.k",
        (Certificate, "number"): number,
        (Certificate, "code"): "substr(p.code, 1, 10) || (100000 + n.k)",
        (Message, "key"): "p.key || '-' || n.k",
        (Message, "state"): "'sent'",
        (Booking, "starts_at"): minutes_later("p.starts_at", times),
        (BookedQuarter, "quarter"): minutes_later("p.quarter", times),
    }


@contextmanager
def short_paper() -> Iterator[None]:
    """The paper itself is not what is measured."""
    with (
        patch(
            "shopwarranty.warranty.preparing.render",
            lambda snapshot, **more: f"%PDF-1.7 {snapshot.sha256}".encode(),
        ),
        patch("shopwarranty.warranty.preparing.sign", lambda pdf, **more: pdf),
    ):
        yield


def cookie_of(member: Any) -> str:
    from django.conf import settings
    from django.test import Client

    client = Client()
    client.force_login(member.user)
    return f"{settings.SESSION_COOKIE_NAME}={client.cookies[settings.SESSION_COOKIE_NAME].value}"


def measure(visitor: Visitor, page: Page, jobs: int, seed: int) -> Measured:
    """Turn and turn about. What is worked out once a process is worked out before."""
    draw = random.Random(f"{seed} {page.name}")
    addresses = [page.address(draw) for _ in range(PAIRS + WARM)]
    pairs = [(visitor.get(EMPTY), visitor.get(each, signed_in=page.signed_in)) for each in addresses][WARM:]
    empty, took = p95([pair[0] for pair in pairs]), p95([pair[1] for pair in pairs])
    return Measured(page, jobs, empty, took, max(asked(visitor, page, each) for each in addresses[:20]))


def p95(all_took: Sequence[Took]) -> Took:
    nth = -(-len(all_took) * 95 // 100) - 1
    return Took(sorted(took.wall for took in all_took)[nth], sorted(took.own for took in all_took)[nth])


def asked(visitor: Visitor, page: Page, address: str) -> int:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    with CaptureQueriesContext(connection) as queries:
        visitor.get(address, signed_in=page.signed_in)
    return len(queries)


def measured(jobs: int, seed: int) -> list[Measured]:
    from django.test import override_settings

    from tests.conftest import NOW

    shop, found = LargeShop(), []
    with (
        patch("django.utils.timezone.now", lambda: NOW),
        override_settings(ROOT_URLCONF="tests.bench.empty_page"),
    ):
        visitor = Visitor(cookie_of(shop.people.owner))
        for many in (jobs // 10, jobs):
            begun = time.perf_counter()
            shop.grow_to(many)
            print(f"{many:,} jobs after {time.perf_counter() - begun:.0f} s", flush=True)
            for page in shop.pages():
                found.append(measure(visitor, page, many, seed))
                print(found[-1].line(), flush=True)
    return found


def figures(found: Sequence[Measured]) -> str:
    """What the table of results keeps, of the larger shop."""
    most = max(each.jobs for each in found)
    named = ((each.page.name.replace(" ", "_"), each) for each in found if each.jobs == most)
    return "\n".join(
        f"{name}_ms={each.took.own:.1f}; {name}_wall_ms={each.took.wall:.1f}; {name}_asked={each.asked}"
        for name, each in named
    )


def main(jobs: int, seed: int) -> int:
    with tempfile.TemporaryDirectory() as folder:
        os.environ["SHOPWARRANTY_PUBLIC_READ_A_MINUTE"] = "1000000"  # counted all the same
        set_up(Path(folder))
        from django.core.management import call_command

        call_command("collectstatic", verbosity=0, interactive=False)
        found = measured(jobs, seed)
    print(figures(found))
    return 0 if all(each.reached for each in found) else 1


if __name__ == "__main__":
    numbers = [int(each) for each in sys.argv[1:]] + [100_000, 20261125][len(sys.argv) - 1 :]
    sys.exit(main(numbers[0], numbers[1]))
