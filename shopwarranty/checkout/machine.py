"""The machine we stand on, as far as installing system packages needs to know it."""

import os
import platform
import shutil
import subprocess
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from .screen import interactive

Run = Callable[[Sequence[str]], int]


@dataclass(frozen=True, slots=True)
class Machine:
    system: str
    is_root: bool
    is_interactive: bool
    has: Callable[[str], bool]
    run: Run
    run_quietly: Run


def this_machine() -> Machine:
    return Machine(
        system=platform.system(),
        is_root=os.geteuid() == 0,
        is_interactive=interactive(),
        has=lambda program: shutil.which(program) is not None,
        run=run,
        run_quietly=run_quietly,
    )


def run(argv: Sequence[str]) -> int:
    return subprocess.run(argv, stdin=None if interactive() else subprocess.DEVNULL).returncode


def run_quietly(argv: Sequence[str]) -> int:
    quiet = subprocess.DEVNULL
    return subprocess.run(argv, stdin=quiet, stdout=quiet, stderr=quiet).returncode
