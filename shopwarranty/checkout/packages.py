"""The folder of our own packages: made once, filled from a lock file."""

import subprocess
import sys
import threading
import time
from collections import deque
from collections.abc import Callable
from pathlib import Path

from . import stamp
from .folder import Checkout
from .pip_progress import PipReader, Step, pinned
from .screen import Progress, Refusal, say

WHAT = "Python packages"
Pip = subprocess.Popen[str]


def see_to(checkout: Checkout, lock: Path) -> None:
    if stamp.is_current(checkout, lock):
        return say(WHAT, "all there")
    started = time.monotonic()
    if not is_usable(checkout):
        make(checkout)
    checkout.stamp.unlink(missing_ok=True)
    count = install(checkout, lock)
    stamp.write(checkout, lock)
    say(WHAT, f"{count} installed as locked, in {time.monotonic() - started:.0f} s")


def is_usable(checkout: Checkout) -> bool:
    """A folder made by a Python that has since gone, or moved to another version, is made anew."""
    version = stamp.python_of(checkout)
    has_settings = (checkout.venv / "pyvenv.cfg").is_file()
    return bool(version) and has_settings and (checkout.venv / "lib" / f"python{version}").is_dir()


def make(checkout: Checkout) -> None:
    say(WHAT, f"making {checkout.venv}")
    python = getattr(sys, "_base_executable", sys.executable)
    command = [python, "-m", "venv", "--clear", str(checkout.venv)]
    if subprocess.run(command, env=stamp.clean_environment(), check=False).returncode:
        raise Refusal(f"{python} could not make {checkout.venv}; the reason stands above.")


def install(checkout: Checkout, lock: Path) -> int:
    """Installs exactly what the lock pins and answers how many packages that were."""
    reader, tail = PipReader(pinned(lock.read_text())), deque[str](maxlen=20)
    with start_pip(checkout, lock) as pip:
        try:
            follow(checkout, pip, reader, tail)
        except BaseException:
            pip.terminate()
            raise
    if pip.returncode:
        reason = "".join(tail)
        raise Refusal(f"{reason}\nOnce that is put right, run the same command again: nothing is lost.")
    return reader.total


def follow(checkout: Checkout, pip: Pip, reader: PipReader, tail: deque[str]) -> None:
    progress = Progress(WHAT)
    for line in pip.stdout or ():
        tail.append(line)
        if step := reader.read(line):
            progress.show(step.verb, step.done, step.total, step.name)
            if step.verb == "installing":
                watch(checkout, step, progress, pip)
    pip.wait()
    progress.clear()


def start_pip(checkout: Checkout, lock: Path) -> Pip:
    options = ["--no-deps", "--require-hashes", "--no-input", "--progress-bar=off"]
    return subprocess.Popen(
        [str(checkout.python), "-m", "pip", "install", *options, "-r", str(lock)],
        env={
            **stamp.clean_environment(),
            "PIP_DISABLE_PIP_VERSION_CHECK": "1",
            "PIP_ROOT_USER_ACTION": "ignore",
        },
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )


def watch(checkout: Checkout, step: Step, progress: Progress, pip: Pip) -> None:
    """pip is silent while it installs, so the folders that appear are counted."""
    before = count_installed(checkout)

    def count() -> None:
        while pip.poll() is None:
            done = max(0, min(count_installed(checkout) - before, step.total))
            progress.show(step.verb, done, step.total)
            time.sleep(0.3)

    in_background(count)


def in_background(work: Callable[[], None]) -> None:
    threading.Thread(target=work, daemon=True).start()


def count_installed(checkout: Checkout) -> int:
    return sum(1 for _ in checkout.venv.glob("lib/python*/site-packages/*.dist-info"))
