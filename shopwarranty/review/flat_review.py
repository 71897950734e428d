"""A flat file reviewed in a process of its own, bounded in memory, time and rows; nothing of it is kept."""

from __future__ import annotations

import fcntl
import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

from django.conf import settings
from django.utils.translation import gettext as _

from . import flat_child, said
from .flat_wrongs import WORDS

MOST_ROWS: Final = 200_000
MOST_BYTES: Final = 30 * 1024 * 1024
ENVIRONMENT: Final = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "MKL_NUM_THREADS": "1"}


@dataclass(frozen=True, slots=True)
class Limits:
    """`wall_s` is less than the server grants a request."""

    memory_bytes: int = 3 * 1024**3
    cpu_s: int = 40
    wall_s: int = 50


LIMITS = Limits()


class CannotReview(Exception):
    """In words what is in the way and what to do."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where the file is wrong: line 1 is the header."""

    line: int
    column: str
    problem: str


class WrongFile(CannotReview):
    def __init__(self, places: tuple[Place, ...]) -> None:
        self.places = places
        super().__init__(_("The file cannot be read as it is."))


@dataclass(frozen=True, slots=True)
class FlatOptions:
    """Columns to compare and to hold equal; None takes what is usual."""

    factors: list[str] | None
    adjust: list[str] | None
    installers: bool


def review_flat(raw: bytes, options: FlatOptions) -> dict[str, Any]:
    """The child's answer. Raises WrongFile with line and column, else CannotReview with what is too much."""
    rows = raw.count(b"\n")
    if rows > MOST_ROWS:
        words = _("The file has about %(n)s lines; at most %(most)s are worked out here.")
        raise CannotReview(words % {"n": said.count(rows), "most": said.count(MOST_ROWS)})
    with one_at_a_time():
        found = _answer_of(raw, options)
    if "complaints" in found:
        raise WrongFile(tuple(_place(*complaint) for complaint in found["complaints"]))
    if "too_much" in found:
        raise CannotReview(_("The file needs more memory than is set aside. Leave out columns or rows."))
    return found


def _place(line: int, column: str, wrong: str, values: dict[str, str]) -> Place:
    return Place(line, column, str(WORDS[wrong]).format(**values))


def _answer_of(raw: bytes, options: FlatOptions) -> dict[str, Any]:
    asked = {**asdict(options), "memory_bytes": LIMITS.memory_bytes, "cpu_s": LIMITS.cpu_s}
    command = [sys.executable, "-m", flat_child.__name__]
    try:
        done = subprocess.run(  # noqa: S603 - our own module, the file goes in as data
            command,
            input=json.dumps(asked).encode() + b"\n" + raw,
            capture_output=True,
            cwd=settings.BASE_DIR,
            env={**ENVIRONMENT, "PATH": os.defpath},
            timeout=LIMITS.wall_s,
            check=False,
        )
    except subprocess.TimeoutExpired as late:
        raise CannotReview(_took_too_long()) from late
    if done.returncode < 0:
        raise CannotReview(_took_too_long())
    if done.returncode:
        raise CannotReview(_("The file could not be worked out. Leave out columns or rows and try again."))
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def _took_too_long() -> str:
    words = _("Not done after %(s)s seconds. Leave out columns or rows, or use the command line.")
    return words % {"s": LIMITS.cpu_s}


@contextmanager
def one_at_a_time() -> Iterator[None]:
    """Somebody else's file must not slow down the bay: one file at a time in the whole installation."""
    path = Path(tempfile.gettempdir()) / f"shopwarranty-flat-review-{os.getuid()}.lock"
    descriptor = os.open(path, os.O_CREAT | os.O_RDWR | os.O_NOFOLLOW, 0o600)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError as busy:
        raise CannotReview(_("Another file is being worked out. Try again in a minute.")) from busy
    else:
        yield
    finally:
        os.close(descriptor)
