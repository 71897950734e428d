"""The steps that quickstart and test share, one at a time in a checkout."""

import fcntl
import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from . import packages, system_packages
from .folder import Checkout
from .machine import this_machine
from .screen import Refusal, say
from .system_needs import TO_RUN, TO_TEST, Need, missing


@contextmanager
def alone(checkout: Checkout) -> Iterator[None]:
    """Two set-ups in one folder would spoil each other's work; the second one waits."""
    folder = os.open(checkout.root, os.O_RDONLY)
    try:
        try:
            fcntl.flock(folder, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            say("Waiting", "for another set-up in this folder")
            fcntl.flock(folder, fcntl.LOCK_EX)
        yield
    finally:
        os.close(folder)


def set_up(checkout: Checkout, lock: Path, needs: Sequence[Need] = TO_RUN) -> None:
    system_packages.see_to(needs, this_machine())
    packages.see_to(checkout, lock)


def set_up_tests(checkout: Checkout, environ_ci: bool) -> None:
    """What only some tests need may be missing, except where CI=true: those tests are skipped."""
    system_packages.see_to(TO_RUN, this_machine())
    if missing(TO_TEST):
        see_to_programs_for_tests(is_required=environ_ci)
    packages.see_to(checkout, checkout.test_lock)


def see_to_programs_for_tests(is_required: bool) -> None:
    try:
        system_packages.see_to(TO_TEST, this_machine())
    except Refusal as refusal:
        if is_required:
            raise
        say("System packages", f"going on without them; tests that need them are skipped.\n{refusal}")
