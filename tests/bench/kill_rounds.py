"""Web server and worker killed again and again: python -m tests.bench.kill_rounds [--rounds N] [--seed N].

Both are the commands that an installation runs (gunicorn, django-q2's cluster), forked from a process that
has read their code already; the worker speaks to a mail server in a process of its own. Each round opens the
windows of some checks, lets holders book, move and call off, and kills either program with SIGKILL at a
moment drawn at random. At the end the worker runs on undisturbed, and everything is reckoned up.
DATABASE_URL names a database with our tables; without it a new file is made.
"""

import argparse
import http.client
import os
import random
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from importlib import import_module
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

ROOT = Path(__file__).parents[2]
CLIENTS, GUESTS_A_ROUND = 4, 12
ANSWERS, MAILS = (0, 22), (0, 12)
"""Answers of the web server after which it is killed, and mails of the worker: counted, because a slow
machine must make rounds longer and not emptier."""
NO_MORE_MAILS = 10.0
"""Seconds without a new mail after which no more are waited for."""
IN_FLIGHT = 0.1
"""Seconds at most between the last of them and the kill."""
PATIENCE = 300.0
EARLY = 0.2
"""The share of rounds in which they are killed while they start."""


@dataclass(frozen=True, slots=True)
class Place:
    folder: Path
    web: int
    mail: int

    @property
    def mails(self) -> Path:
        return self.folder / "mails"

    def mails_taken(self) -> int:
        return len(self.mails.read_text().split()) if self.mails.exists() else 0


@dataclass(slots=True)
class Load:
    """What the holders do in one round. Each has one guest at a time, so that the last answer counts."""

    place: Place
    times: list[str]
    wishes: dict[int, Any]
    answered: int = 0
    said: dict[str, int] = field(default_factory=lambda: {"yes": 0, "no": 0, "lost": 0})
    stop: threading.Event = field(default_factory=threading.Event)
    changed: threading.Condition = field(default_factory=threading.Condition)

    def run(self, guests: list[Any], chance: random.Random) -> None:
        while not self.stop.is_set():
            if self.act(chance.choice(guests), chance) is None:
                self.stop.wait(0.05)

    def wait_for_answers(self, number: int) -> None:
        """Raises TimeoutError when nobody gets that far."""
        with self.changed:
            if not self.changed.wait_for(lambda: self.answered >= number, PATIENCE):
                raise TimeoutError(f"{self.answered} answers, and no more of them")

    def act(self, guest: Any, chance: random.Random) -> bool | None:
        """Books or moves, now and then calls off. None when nobody answered the door."""
        calls_off = chance.random() < 0.15
        starts = "" if calls_off else chance.choice(self.times)
        path = guest.path("cancel/") if calls_off else guest.path()
        status = self.post(path, {"slot": f"{starts}/1"})
        if status is None:
            return None
        with self.changed:
            self.said["lost" if status == 0 else "yes" if status == 302 else "no"] += 1
            self.answered += status != 0
            self.changed.notify_all()
        wish = self.wishes[guest.check]
        if status == 0:
            wish.unsure = True
        elif status == 302:
            wish.starts, wish.unsure = starts, False
        return status == 302

    def post(self, path: str, form: dict[str, str]) -> int | None:
        """The status; 0 when the answer was lost on the way; None when the web server was not there."""
        connection = http.client.HTTPConnection("127.0.0.1", self.place.web, timeout=60)
        try:
            connection.connect()
        except OSError:
            return None
        headers = {"content-type": "application/x-www-form-urlencoded"}
        try:
            connection.request("POST", path, urlencode(form), headers)
            return connection.getresponse().status
        except (OSError, http.client.HTTPException):
            return 0
        finally:
            connection.close()


def forked(log: Path, run: Callable[[], Any]) -> int:
    """The process runs in a group of its own, so that one signal ends it with all that it started."""
    from django.db import connections

    connections.close_all()
    pid = os.fork()
    if pid:
        return pid
    try:
        os.setsid()
        out = os.open(log, os.O_WRONLY | os.O_APPEND | os.O_CREAT)
        os.dup2(out, 1)
        os.dup2(out, 2)
        run()
    finally:
        os._exit(1)


def web_server(place: Place) -> None:
    from shopwarranty.checkout.folder import Checkout
    from shopwarranty.checkout.serving import Place as Served
    from shopwarranty.checkout.serving import web_command

    command = web_command(Checkout(ROOT), Served("127.0.0.1", place.web))
    sys.argv = ["gunicorn", *command[3:]]
    import_module("gunicorn.app.wsgiapp").run()


def worker() -> None:
    from django.core.management import execute_from_command_line

    execute_from_command_line(["manage.py", "qcluster"])


def kill(pid: int) -> None:
    """SIGKILL to our own child's group; nobody in it gets to say anything."""
    os.killpg(pid, signal.SIGKILL)
    os.waitpid(pid, 0)


def wake() -> None:
    """As the timetable does every minute: once for either of the two workers."""
    from django_q.tasks import async_task

    for _ in range(2):
        async_task("shopwarranty.outbox.tick.tick_now")


def one_round(place: Place, load: Load, guests: list[Any], chance: random.Random) -> None:
    wake()
    answers, mails = load.answered + chance.randint(*ANSWERS), place.mails_taken() + chance.randint(*MAILS)
    waits = {"web": lambda: load.wait_for_answers(answers), "worker": lambda: wait_for_mails(place, mails)}
    running = {
        "web": forked(place.folder / "web.log", lambda: web_server(place)),
        "worker": forked(place.folder / "worker.log", worker),
    }
    early = chance.random() < EARLY
    if not early:
        wait_for(place.web)
    load.stop.clear()
    clients = [
        threading.Thread(target=load.run, args=(guests[n::CLIENTS], random.Random(chance.random())))
        for n in range(CLIENTS)
    ]
    for client in clients:
        client.start()
    for which in chance.sample(("web", "worker"), 2):
        if not early:
            waits[which]()
        time.sleep(chance.uniform(0, IN_FLIGHT))
        kill(running.pop(which))
    load.stop.set()
    for client in clients:
        client.join()


def wait_for_mails(place: Place, number: int) -> None:
    """There may be fewer to send: then until no more come."""
    there, since = place.mails_taken(), time.monotonic()
    while there < number and time.monotonic() - since < NO_MORE_MAILS:
        time.sleep(0.02)
        if place.mails_taken() > there:
            there, since = place.mails_taken(), time.monotonic()


@contextmanager
def mail_server(place: Place, seed: int) -> Iterator[Path]:
    command = (sys.executable, "-m", "tests.bench.mail_server", str(place.mail), str(place.mails), str(seed))
    process = subprocess.Popen(command, cwd=ROOT)
    try:
        wait_for(place.mail)
        if process.poll() is not None:
            raise OSError(f"somebody else's server listens on port {place.mail}")
        yield place.mails
    finally:
        process.terminate()
        process.wait()


def wait_for(port: int) -> None:
    for _ in range(6000):
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.05)
    raise TimeoutError(f"nobody listens on port {port}")


def set_up(folder: Path, mail: int) -> None:
    """Settings are read once, so the places of this run come first."""
    os.environ["SHOPWARRANTY_DATA_DIR"] = str(folder)
    os.environ["SHOPWARRANTY_DEBUG"] = "1"
    os.environ["SHOPWARRANTY_MAIL_URL"] = f"smtp://127.0.0.1:{mail}"
    os.environ["SHOPWARRANTY_LOG_LEVEL"] = "ERROR"
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopwarranty.settings")
    import django

    django.setup()
    from django.core.management import call_command

    if "DATABASE_URL" not in os.environ:
        call_command("migrate", verbosity=0)


def read_the_code(guest: Any) -> None:
    """One page and the programs' own modules, so that a fork has nothing left to read."""
    from django.test import Client

    for name in ("gunicorn.app.wsgiapp", "gunicorn.workers.gthread"):
        import_module(name)
    answer = Client().get(guest.page, headers={"host": "localhost"})
    assert answer.status_code == 200, answer.status_code


def run(folder: Path, rounds: int, seed: int) -> int:
    from shopwarranty.checkout.ports import next_free

    chance = random.Random(seed)
    web = next_free(20000 + os.getpid() * 10 % 20000)  # others may run rounds of the same seed
    place = Place(folder, web, next_free(web + 1))
    set_up(folder, place.mail)
    from django.utils import timezone

    from tests.bench import killed_shop as shop

    people, guests = shop.make_killed_shop(rounds * GUESTS_A_ROUND)
    read_the_code(guests[0])
    today = timezone.now().date()
    load = Load(place, shop.times_wanted(today), {guest.check: shop.Wish() for guest in guests})
    with mail_server(place, seed) as mails:
        for number in range(rounds):
            invited = guests[number * GUESTS_A_ROUND :][:GUESTS_A_ROUND]
            shop.open_windows([guest.check for guest in invited], today)
            one_round(place, load, invited, chance)
        shop.settle_all()
        tally = shop.reckon(people, load.wishes, mails)
    print(f"rounds={rounds}; seed={seed}; " + "; ".join(f"answered_{k}={n}" for k, n in load.said.items()))
    print(*tally.lines(), sep="\n")
    return 1 if tally.wrong else 0


def main() -> int:
    parser = argparse.ArgumentParser(prog="kill_rounds")
    parser.add_argument("--rounds", type=int, default=20)
    parser.add_argument("--seed", type=int, default=20261125)
    parser.add_argument("--keep", type=Path, help="a folder for the logs, instead of one that is thrown away")
    chosen = parser.parse_args()
    if chosen.keep:
        chosen.keep.mkdir(parents=True, exist_ok=True)
        return run(chosen.keep, chosen.rounds, chosen.seed)
    with tempfile.TemporaryDirectory() as folder:
        return run(Path(folder), chosen.rounds, chosen.seed)


if __name__ == "__main__":
    sys.exit(main())
