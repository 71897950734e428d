"""What is said to the person at the terminal."""

import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TextIO

WIDTH = 18
Say = Callable[[str, str], None]


class Refusal(Exception):
    """What stops the command, with the remedy. Shown without a traceback, exit code 2."""


def say(what: str, text: str) -> None:
    print(f"{what:<{WIDTH}}{text}", flush=True)


def interactive() -> bool:
    return sys.stdin is not None and sys.stdin.isatty() and sys.stdout.isatty()


@dataclass(slots=True)
class Progress:
    """One line that is rewritten on a terminal, and a line now and then in a log."""

    what: str
    out: TextIO = field(default_factory=lambda: sys.stdout)
    every: int = 10
    last: tuple[str, int] = ("", -1)

    def show(self, verb: str, done: int, total: int, name: str = "") -> None:
        if self.out.isatty():
            self._write(f"\r{self._line(verb, done, total, name)}\x1b[K")
        elif verb != self.last[0] or done >= min(self.last[1] + self.every, total) > self.last[1]:
            self._write(f"{self._line(verb, done, total, name)}\n")
            self.last = (verb, done)

    def clear(self) -> None:
        if self.out.isatty():
            self._write("\r\x1b[K")

    def _line(self, verb: str, done: int, total: int, name: str) -> str:
        return f"{self.what:<{WIDTH}}{verb} {done}/{total} {name}".rstrip()

    def _write(self, text: str) -> None:
        self.out.write(text)
        self.out.flush()
