"""`test`: set up, then hand the rest of the line to pytest."""

import os
import subprocess
from collections.abc import Sequence
from pathlib import Path

from . import setting_up, stamp
from .folder import Checkout, make_private
from .screen import say

SETUP_ONLY = "--setup-only"
WORKERS = 4
TEST_KEY = "known to everybody, since tests keep no secrets and serve their pages to this machine only"
IN_PARALLEL = ("--dist", "loadgroup")


def test(checkout: Checkout, arguments: Sequence[str]) -> int:
    environment = test_environment(checkout)
    with setting_up.alone(checkout):
        setting_up.set_up_tests(checkout, is_ci(environment))
    if SETUP_ONLY in arguments:
        return 0
    command = (str(checkout.python), "-m", "pytest", *pytest_arguments(checkout, arguments))
    say("Tests", " ".join(("pytest", *command[3:])))
    return subprocess.run(command, cwd=checkout.root, env=environment, check=False).returncode


def is_ci(environment: dict[str, str]) -> bool:
    return environment.get("CI", "").lower() in ("1", "true", "yes")


def test_environment(checkout: Checkout) -> dict[str, str]:
    """Settings of this machine's installation would change what is tested, so tests see none of them."""
    kept = {k: v for k, v in stamp.clean_environment().items() if not k.startswith("SHOPWARRANTY_")}
    folder = make_private(make_private(checkout.root / "var") / "tests")
    (folder / "static").mkdir(exist_ok=True)
    return {**kept, "SHOPWARRANTY_DATA_DIR": str(folder), "SHOPWARRANTY_SECRET_KEY": TEST_KEY}


def pytest_arguments(checkout: Checkout, arguments: Sequence[str]) -> tuple[str, ...]:
    """The whole suite runs on all cores; chosen tests run as pytest runs them."""
    if not arguments:
        return ("-n", str(min(os.cpu_count() or 1, WORKERS)), *IN_PARALLEL)
    return tuple(from_root(argument, Path.cwd(), checkout.root) for argument in arguments)


def from_root(argument: str, here: Path, root: Path) -> str:
    """A path typed in another folder still means that path."""
    path, mark, rest = argument.partition("::")
    if here == root or argument.startswith("-") or not (here / path).exists():
        return argument
    return f"{here / path}{mark}{rest}"
