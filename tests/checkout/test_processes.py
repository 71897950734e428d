"""The web server and the worker live and end together. Real processes are used."""

import os
import signal
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from shopwarranty.checkout import processes
from shopwarranty.checkout.processes import Program, Supervisor, Watched
from shopwarranty.checkout.pulse import GRACE_SECONDS, LOOK_SECONDS, Pulse

STAYS = "import time; open({mark!r}, 'a').write('started\\n'); time.sleep(60)"
ENDS = "open({mark!r}, 'a').write('started\\n')"
IGNORES_TERM = "import signal; signal.signal(signal.SIGTERM, signal.SIG_IGN); " + STAYS
HAS_A_CHILD = (
    "import subprocess, sys; child = subprocess.Popen([sys.executable, '-c', 'import time; time.sleep(60)']);"
    " open({mark!r}, 'w').write(str(child.pid)); child.wait()"
)


def program(name: str, code: str, mark: Path) -> Program:
    argv = (sys.executable, "-c", code.format(mark=str(mark)))
    return Program(name, argv, mark.parent, dict(os.environ))


def starts(mark: Path) -> int:
    return mark.read_text().count("started") if mark.exists() else 0


def until(true: Callable[[], bool]) -> None:
    deadline = time.monotonic() + 20
    while not true():
        assert time.monotonic() < deadline
        time.sleep(0.05)


def gone(pid: int) -> bool:
    """A process that nobody has collected yet counts as gone."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] == "Z"
    except FileNotFoundError:
        return True


@pytest.fixture
def keep_signals() -> object:
    before = {number: signal.getsignal(number) for number in processes.STOP_SIGNALS}
    yield
    for number, handler in before.items():
        signal.signal(number, handler)


def supervisor(*programs: Program) -> tuple[Supervisor, list[str]]:
    said: list[str] = []
    return Supervisor(programs, lambda what, text: said.append(f"{what}: {text}")), said


@pytest.mark.usefixtures("keep_signals")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_one_signal_stops_both(tmp_path: Path, number: signal.Signals) -> None:
    web, worker = tmp_path / "web", tmp_path / "worker"
    keeper, _ = supervisor(program("web server", STAYS, web), program("worker", STAYS, worker))
    keeper.start()
    until(lambda: starts(web) == starts(worker) == 1)
    threading.Timer(0.2, os.kill, (os.getpid(), number)).start()
    assert keeper.watch(lambda: None) == 0
    assert all(one.process and one.process.returncode == -signal.SIGTERM for one in keeper.watched)


@pytest.mark.usefixtures("keep_signals")
def test_a_worker_that_dies_is_started_again(tmp_path: Path) -> None:
    web, worker = tmp_path / "web", tmp_path / "worker"
    keeper, said = supervisor(program("web server", STAYS, web), program("worker", STAYS, worker))
    keeper.start()
    until(lambda: starts(worker) == 1)
    first = keeper.watched[1].process
    assert first is not None
    first.kill()

    def stop_when_back() -> None:
        if starts(worker) == 2:
            keeper.stop()

    assert keeper.watch(stop_when_back) == 0
    assert starts(web) == 1
    assert any("the worker ended by itself (-9)" in line for line in said)


@pytest.mark.usefixtures("keep_signals")
def test_a_program_that_never_stays_up_ends_the_attempt(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(processes, "LONGEST_WAIT", 0.0)
    web, worker = tmp_path / "web", tmp_path / "worker"
    keeper, said = supervisor(program("web server", ENDS, web), program("worker", STAYS, worker))
    keeper.start()
    assert keeper.watch(lambda: None) == 1
    assert starts(web) == processes.HOPELESS
    assert keeper.watched[1].process is not None
    assert keeper.watched[1].process.returncode is not None
    assert said[-1].startswith("Stopped: the web server")


@pytest.mark.usefixtures("keep_signals")
def test_what_does_not_stop_when_asked_is_made_to(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(processes, "STOP_SECONDS", 0.3)
    mark = tmp_path / "deaf"
    keeper, _ = supervisor(program("worker", IGNORES_TERM, mark))
    keeper.start()
    until(lambda: starts(mark) == 1)
    keeper.stop()
    assert keeper.watch(lambda: None) == 0
    assert keeper.watched[0].process is not None
    assert keeper.watched[0].process.returncode == -signal.SIGKILL


@pytest.mark.usefixtures("keep_signals")
def test_children_of_a_killed_worker_do_not_stay_behind(tmp_path: Path) -> None:
    mark = tmp_path / "child"
    keeper, _ = supervisor(program("worker", HAS_A_CHILD, mark))
    keeper.start()
    until(lambda: mark.exists() and bool(mark.read_text()))
    child = int(mark.read_text())
    one = keeper.watched[0]
    assert one.process is not None
    one.process.kill()
    one.process.wait()
    keeper.look_after(one, time.monotonic())
    until(lambda: gone(child))
    keeper.stop_all()


def test_waiting_before_a_new_start_doubles_and_a_steady_run_forgets_it(tmp_path: Path) -> None:
    one = Watched(program("worker", ENDS, tmp_path / "mark"))
    waits = []
    for _ in range(7):
        one.note_end(now=1.0)
        waits.append(one.not_before - 1.0)
    assert waits == [1, 3, 7, 15, 30, 30, 30]
    one.note_end(now=1000.0)
    assert one.not_before == 1000.0


@pytest.fixture
def silent_worker(tmp_path: Path) -> object:
    one = Watched(program("worker", STAYS, tmp_path / "mark"))
    one.start(now=0.0)
    yield one
    one.signal_group(signal.SIGKILL)
    assert one.process is not None
    one.process.wait()


def test_a_worker_that_runs_but_does_nothing_is_ended(silent_worker: Watched) -> None:
    pulse = Pulse(silent_worker, lambda: "silent", lambda what, text: None)
    pulse.look(now=GRACE_SECONDS - 1)
    assert silent_worker.ended() is None
    pulse.look(now=GRACE_SECONDS)
    until(lambda: silent_worker.ended() == -signal.SIGKILL)


@pytest.mark.parametrize("state", ["up", ""])
def test_a_worker_of_which_nothing_bad_is_known_goes_on(silent_worker: Watched, state: str) -> None:
    looks: list[float] = []

    def ask() -> str:
        looks.append(1)
        return state

    pulse = Pulse(silent_worker, ask, lambda what, text: None)
    for second in range(3):
        pulse.look(now=GRACE_SECONDS + second * LOOK_SECONDS / 2)
    assert len(looks) == 2
    assert silent_worker.ended() is None
