"""Web server, worker and database killed during the three acts: python -m tests.bench.act_rounds.

People issue certificates (hand over), book checks, record findings and open the review, all through the web
server that an installation runs, while one of the programs is killed with SIGKILL: after a number of answers
that is drawn at random, so that a slow machine makes rounds longer and not emptier. What was killed is
started again on the same files, and the others have to go on by themselves. At the end everything is
reckoned up: nothing acknowledged is lost, nothing is done twice.
With --postgres the database is a PostgreSQL server of its own and is killed too; without, it is a new file.
"""

import argparse
import http.client
import os
import random
import sys
import tempfile
import threading
import time
from collections import Counter, deque
from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from tests.bench.kill_rounds import (
    Place,
    forked,
    kill,
    mail_server,
    set_up,
    wait_for,
    wake,
    web_server,
    worker,
)
from tests.throwaway_postgres import KILLABLE, Running, running_server

CLIENTS = 4
ANSWERS = (1, 9)
"""Answers in a round before somebody is killed."""
IN_FLIGHT = 0.2
"""Seconds at most between the last of them and the kill, so that it falls into the midst of an act."""
PATIENCE = 300.0
ON_FILE = ("web", "worker", "both")
ON_POSTGRES = ("web", "worker", "database", "database", "connection")
TOKEN = "t" * 32


@dataclass(slots=True)
class Load:
    """What people do, and what they were told. A thing is done by one person at a time."""

    port: int
    work: Any
    said: Any
    times: list[str]
    todo: dict[str, deque[Any]]
    away: bool = False
    """While the database is killed and not back: then, and only then, may a page fail."""
    times_away: int = 0
    answered: int = 0
    told: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)
    stop: threading.Event = field(default_factory=threading.Event)
    changed: threading.Condition = field(default_factory=threading.Condition)

    def run(self, chance: random.Random) -> None:
        acts = (self.hand_over, self.hand_over, self.book, self.book, self.look, self.look, self.review)
        while not self.stop.is_set():
            if chance.choice(acts)(chance) is None:
                self.stop.wait(0.05)

    def hand_over(self, chance: random.Random) -> int | None:
        """Pressed again when no answer came: it must not happen twice."""
        job = taken(self.todo["jobs"])
        if job is None:
            return self.review(chance)
        status = self.post(f"jobs/{job}/hand-over/", {"mail": "yes", "reason-no_look": "seen from afar"})
        if status == 302:
            self.said.handed_over.add(job)
        else:
            self.todo["jobs"].append(job)
        return status

    def book(self, chance: random.Random) -> int | None:
        check = taken(self.todo["checks"])
        if check is None:
            return self.review(chance)
        starts, wish = chance.choice(self.times), self.said.wishes[check]
        status = self.post(f"checks/{check}/book/", {"slot": starts})
        if status == 302:
            wish.starts, wish.unsure = starts.partition("/")[0], False
            return status
        wish.unsure = wish.unsure or status in (0, 500)
        self.todo["checks"].append(check)
        return status

    def look(self, chance: random.Random) -> int | None:
        """As a phone sends it: with an id, the same again until there is an answer."""
        look = taken(self.todo["looks"])
        if look is None:
            return self.review(chance)
        status = self.post(f"visits/{look.visit}/panels/{look.panel}/", answers_of(look))
        if status == 302:
            self.said.looked_at.add(look.visit)
        else:
            self.todo["looks"].append(look)
        return status

    def review(self, chance: random.Random) -> int | None:
        return self.ask("GET", chance.choice(("review/", "", "checks/", "certificates/")), None)

    def post(self, path: str, form: dict[str, str]) -> int | None:
        return self.ask("POST", path, urlencode({**form, "csrfmiddlewaretoken": TOKEN}))

    def ask(self, method: str, path: str, body: str | None) -> int | None:
        """The status; 0 when the answer was lost on the way; None when the web server was not there."""
        before = self.times_away
        status, words = sent(self.port, method, f"/s/acts/{path}", body, self.work.cookie)
        if status is None:
            return None
        excused = self.away or self.times_away != before
        if status >= 400 and not excused:
            self.wrong.append(f"{method} {path}: {status} with everything up: {words[:300]}")
        with self.changed:
            self.told["lost" if not status else "yes" if status in (200, 302) else str(status)] += 1
            self.answered += status in (200, 302)
            self.changed.notify_all()
        return status

    def wait_for_answers(self, number: int) -> bool:
        wanted = self.answered + number
        with self.changed:
            return self.changed.wait_for(lambda: self.answered >= wanted, PATIENCE)


def taken(things: deque[Any]) -> Any:
    try:
        return things.popleft()
    except IndexError:
        return None


def answers_of(look: Any) -> dict[str, str]:
    form = {"act": "next", "entry_uid": str(UUID(int=look.visit))}
    for n, place in enumerate(look.places):
        form |= {f"p{place}-result": "clean" if n else "defect", f"p{place}-was": "0"}
    first = look.places[0]
    return form | {f"p{first}-sights": "1", f"p{first}-0-kind": "crease", f"p{first}-0-severity": "2"}


def sent(port: int, method: str, path: str, body: str | None, session: str) -> tuple[int | None, str]:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE)
    headers = {"cookie": f"sessionid={session}; csrftoken={TOKEN}", "accept": "text/html"}
    if body is not None:
        headers["content-type"] = "application/x-www-form-urlencoded"
    try:
        connection.connect()
    except OSError:
        return None, ""
    try:
        connection.request(method, path, body, headers)
        answer = connection.getresponse()
        return answer.status, answer.read().decode(errors="replace")
    except (OSError, http.client.HTTPException):
        return 0, ""
    finally:
        connection.close()


@dataclass(slots=True)
class Programs:
    """Web server and worker as processes of ours, and the database where it is one that can be killed."""

    place: Place
    load: Load
    database: Running | None
    running: dict[str, int] = field(default_factory=dict)

    def start(self, which: str) -> None:
        acts: dict[str, Callable[[], Any]] = {"web": lambda: web_server(self.place), "worker": worker}
        self.running[which] = forked(self.place.folder / f"{which}.log", acts[which])
        if which == "web":
            wait_for(self.place.web)

    def kill(self, victim: str, chance: random.Random) -> None:
        if victim in ("database", "connection"):
            self.kill_database(victim, chance)
            return
        for which in ("web", "worker") if victim == "both" else (victim,):
            kill(self.running.pop(which))

    def kill_database(self, victim: str, chance: random.Random) -> None:
        assert self.database is not None
        self.load.away, self.load.times_away = True, self.load.times_away + 1
        if victim == "database":
            self.database.kill()
            time.sleep(chance.uniform(0, 0.5))
            self.database.start_again()
        else:
            self.database.kill_one_child(chance)
        self.wait_until_it_answers()
        self.load.away, self.load.times_away = False, self.load.times_away + 1

    def wait_until_it_answers(self) -> None:
        """Through the web server, which has to find its way back by itself."""
        deadline = time.monotonic() + PATIENCE
        while sent(self.place.web, "GET", "/s/acts/", None, self.load.work.cookie)[0] != 200:
            if time.monotonic() > deadline:
                raise TimeoutError("the web server did not come back after the database did")
            time.sleep(0.1)

    def start_missing(self) -> None:
        for which in ("web", "worker"):
            if which not in self.running:
                self.start(which)

    def worker_ticks(self) -> bool:
        """Whether a worker started now finds a database that it can go on with."""
        from django.utils import timezone

        from shopwarranty.outbox.models import Heartbeat

        if "worker" in self.running:
            kill(self.running.pop("worker"))
        self.start("worker")
        wake()
        began, deadline = timezone.now(), time.monotonic() + PATIENCE
        while not Heartbeat.objects.filter(name="tick", at__gt=began).exists():
            if time.monotonic() > deadline:
                return False
            time.sleep(0.2)
        return True

    def kill_all(self) -> None:
        for which in list(self.running):
            kill(self.running.pop(which))


def one_round(programs: Programs, victim: str, chance: random.Random) -> None:
    programs.start_missing()
    wake()
    load = programs.load
    load.stop.clear()
    clients = [
        threading.Thread(target=load.run, args=(random.Random(chance.random()),)) for _ in range(CLIENTS)
    ]
    for client in clients:
        client.start()
    if not load.wait_for_answers(chance.randint(*ANSWERS)):
        load.wrong.append(f"no answers for {PATIENCE:.0f} seconds before {victim} was killed")
    time.sleep(chance.uniform(0, IN_FLIGHT))
    programs.kill(victim, chance)
    load.stop.set()
    for client in clients:
        client.join()


def run(folder: Path, rounds: int, seed: int, database: Running | None) -> int:
    from shopwarranty.checkout.ports import next_free

    chance = random.Random(seed)
    web = next_free(20000 + os.getpid() * 10 % 20000)  # others may run rounds of the same seed
    place = Place(folder, web, next_free(web + 1))
    set_up(folder, place.mail)
    if database is not None:
        migrate()
    from django.db import connections
    from django.utils import timezone

    from tests.bench import act_shop, killed_shop

    work = act_shop.make_shop_at_work(rounds)
    said = act_shop.Said(wishes={check: killed_shop.Wish() for check in work.checks})
    todo: dict[str, deque[Any]] = {
        "jobs": deque(work.jobs),
        "checks": deque(work.checks),
        "looks": deque(work.looks),
    }
    load = Load(place.web, work, said, act_shop.times_wanted(timezone.localdate()), todo)
    programs, killed = Programs(place, load, database), Counter[str]()
    read_the_code(work)
    with mail_server(place, seed) as mails:
        try:
            for _ in range(rounds):
                victim = chance.choice(ON_POSTGRES if database else ON_FILE)
                one_round(programs, victim, chance)
                killed[victim] += 1
                connections.close_all()
            if not programs.worker_ticks():
                load.wrong.append("the worker does nothing any more")
        finally:
            programs.kill_all()
        killed_shop.settle_all()
        tally = act_shop.reckon(work, said, mails)
    tally.wrong += load.wrong
    print(f"rounds={rounds}; seed={seed}; " + "; ".join(f"killed_{k}={n}" for k, n in sorted(killed.items())))
    print("; ".join(f"answered_{k}={n}" for k, n in sorted(load.told.items())))
    print(*tally.lines(), sep="\n")
    return 1 if tally.wrong else 0


def migrate() -> None:
    from django.core.management import call_command

    call_command("migrate", verbosity=0)


def read_the_code(work: Any) -> None:
    """One page of each act, so that a fork has nothing left to read."""
    from importlib import import_module

    from django.test import Client

    for name in ("gunicorn.app.wsgiapp", "gunicorn.workers.gthread"):
        import_module(name)
    client = Client()
    client.cookies["sessionid"] = work.cookie
    look = work.looks[0]
    for path in (f"jobs/{work.jobs[0]}/hand-over/preview.pdf", f"checks/{work.checks[0]}/book/",
                 f"visits/{look.visit}/panels/{look.panel}/", "review/"):  # fmt: skip
        answer = client.get(f"/s/acts/{path}", headers={"host": "localhost"})
        assert answer.status_code == 200, (path, answer.status_code)


def in_folder(folder: Path, chosen: argparse.Namespace) -> int:
    if not chosen.postgres:
        return run(folder, chosen.rounds, chosen.seed, None)
    with running_server(KILLABLE) as database:
        os.environ["DATABASE_URL"] = database.address
        return run(folder, chosen.rounds, chosen.seed, database)


def main() -> int:
    parser = argparse.ArgumentParser(prog="act_rounds")
    parser.add_argument("--rounds", type=int, default=15)
    parser.add_argument("--seed", type=int, default=20261125)
    parser.add_argument("--postgres", action="store_true", help="kill a PostgreSQL server too")
    parser.add_argument("--keep", type=Path, help="a folder for the logs, instead of one that is thrown away")
    chosen = parser.parse_args()
    if chosen.keep:
        chosen.keep.mkdir(parents=True, exist_ok=True)
    with nullcontext(str(chosen.keep)) if chosen.keep else tempfile.TemporaryDirectory() as folder:
        return in_folder(Path(folder), chosen)


if __name__ == "__main__":
    sys.exit(main())
