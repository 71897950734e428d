"""Keeping the web server and the worker running until somebody stops them."""

import contextlib
import os
import signal
import subprocess
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from .screen import Say, say

STOP_SECONDS = 20.0
STEADY_SECONDS = 10.0
LONGEST_WAIT = 30.0
HOPELESS = 5
STOP_SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


@dataclass(frozen=True, slots=True)
class Program:
    """`argv` is started in `folder`; `name` is what people are told."""

    name: str
    argv: tuple[str, ...]
    folder: Path
    environment: Mapping[str, str]


@dataclass(slots=True)
class Watched:
    """A running program, and how often it ended soon after its start."""

    program: Program
    process: "subprocess.Popen[bytes] | None" = None
    started: float = 0.0
    quick_ends: int = 0
    not_before: float = 0.0

    def start(self, now: float) -> None:
        """In a group of its own: Ctrl-C reaches only us, and we stop each in order."""
        self.process = subprocess.Popen(
            self.program.argv,
            cwd=self.program.folder,
            env=dict(self.program.environment),
            stdin=subprocess.DEVNULL,
            start_new_session=True,
        )
        self.started = now

    def ended(self) -> int | None:
        return self.process.poll() if self.process else None

    def note_end(self, now: float) -> None:
        self.quick_ends = self.quick_ends + 1 if now - self.started < STEADY_SECONDS else 0
        self.not_before = now + min(LONGEST_WAIT, 2.0**self.quick_ends - 1)
        self.signal_group(signal.SIGKILL)  # what it left behind
        self.process = None

    def signal_group(self, number: signal.Signals) -> None:
        with contextlib.suppress(ProcessLookupError, PermissionError):
            if self.process:
                os.killpg(self.process.pid, number)


@dataclass(slots=True)
class Supervisor:
    """Starts the programs, starts again what dies, stops all of them together."""

    programs: Sequence[Program]
    tell: Say = say
    stopping: threading.Event = field(default_factory=threading.Event)
    watched: list[Watched] = field(default_factory=list)

    def start(self) -> None:
        for number in STOP_SIGNALS:
            signal.signal(number, self.stop)
        self.watched = [Watched(program) for program in self.programs]
        for one in self.watched:
            one.start(time.monotonic())

    def stop(self, *_: object) -> None:
        self.stopping.set()

    def watch(self, every_round: Callable[[], None]) -> int:
        """Returns when told to stop (0), or when a program does not stay up (1)."""
        while not self.stopping.wait(0.5):
            every_round()
            for one in self.watched:
                if not self.look_after(one, time.monotonic()):
                    self.stop_all()
                    return 1
        self.tell("Stopping", "the web server and the worker finish what they are doing")
        self.stop_all()
        return 0

    def look_after(self, one: Watched, now: float) -> bool:
        if one.process is None:
            if now >= one.not_before:
                one.start(now)
        elif (code := one.ended()) is not None:
            one.note_end(now)
            return self.tell_end(one, code)
        return True

    def tell_end(self, one: Watched, code: int) -> bool:
        ended = f"the {one.program.name} ended by itself ({code})"
        if one.quick_ends >= HOPELESS:
            self.tell("Stopped", f"{ended} {HOPELESS} times in a row; its reason stands above")
            return False
        self.tell("Starting again", ended)
        return True

    def stop_all(self) -> None:
        """First asked, then made to. A second Ctrl-C does not wait."""
        self.stopping.clear()
        running = [one for one in self.watched if one.process]
        for one in running:
            one.process.terminate()  # type: ignore[union-attr]
        deadline = time.monotonic() + STOP_SECONDS
        while any(one.ended() is None for one in running) and time.monotonic() < deadline:
            if self.stopping.wait(0.1):
                break
        for one in running:
            one.signal_group(signal.SIGKILL)
            one.process.wait()  # type: ignore[union-attr]
