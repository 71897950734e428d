"""What was installed from which lock, so that a second run has nothing to do."""

import hashlib
import json
import os
import re
import subprocess
from dataclasses import dataclass
from pathlib import Path

from .folder import Checkout

# Settings of pip or Python that would send the packages somewhere else.
MISLEADING = frozenset(
    "PIP_USER PIP_TARGET PIP_PREFIX PIP_ROOT PIP_NO_BINARY PIP_DRY_RUN PYTHONPATH PYTHONHOME"
    " PYTHONNOUSERSITE __PYVENV_LAUNCHER__".split()
)


@dataclass(frozen=True, slots=True)
class Stamp:
    """`python` is like "3.11"; `locks` are SHA-256 of lock files."""

    python: str = ""
    locks: frozenset[str] = frozenset()


def is_set_up(checkout: Checkout) -> bool:
    return checkout.stamp.is_file() and checkout.python.exists()


def is_current(checkout: Checkout, lock: Path) -> bool:
    """Whether exactly this lock was installed, for the Python that the folder runs now."""
    stamp = read(checkout)
    return digest(lock) in stamp.locks and stamp.python == python_of(checkout)


def read(checkout: Checkout) -> Stamp:
    try:
        content = json.loads(checkout.stamp.read_text())
        return Stamp(content["python"], frozenset(content["locks"]))
    except (OSError, ValueError, KeyError, TypeError):
        return Stamp()


def write(checkout: Checkout, lock: Path) -> None:
    """The lock for tests holds everything that the lock for running holds."""
    locks = {digest(lock)} | ({digest(checkout.lock)} if lock == checkout.test_lock else set())
    content = {"python": python_of(checkout), "locks": sorted(locks)}
    checkout.stamp.write_text(json.dumps(content, indent=1))


def digest(lock: Path) -> str:
    return hashlib.sha256(lock.read_bytes()).hexdigest()


def python_of(checkout: Checkout) -> str:
    """Like "3.11"; empty when the folder is missing or its Python does not start."""
    ask = [str(checkout.python), "-c", "import sys; print('%d.%d' % sys.version_info[:2])"]
    try:
        answer = subprocess.run(ask, env=clean_environment(), capture_output=True, text=True, check=False)
    except OSError:
        return ""
    return answer.stdout.strip() if re.fullmatch(r"3\.\d+\s*", answer.stdout) else ""


def clean_environment() -> dict[str, str]:
    return {name: value for name, value in os.environ.items() if name not in MISLEADING}
