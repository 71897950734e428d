"""Every other command belongs to Django, in the Python that the set-up made."""

import os
import sys
from collections.abc import Sequence
from importlib.util import find_spec
from pathlib import Path

from . import stamp
from .folder import Checkout
from .screen import Refusal

FIRST = "shopwarranty is not set up in this folder yet. Run this first:\n\n    python3 manage.py quickstart\n"
AGAIN = "python3 manage.py quickstart --no-serve"
CHANGED = f"Note: the locked packages have changed since they were installed; run {AGAIN}"
NO_TABLES = f"The database is not set up or not up to date. Run this first:\n\n    {AGAIN}\n"
NEEDED = ("django", "django_q", "environ", "csp", "weasyprint")


def run(checkout: Checkout, arguments: Sequence[str]) -> int:
    if runs_inside(checkout) or not stamp.is_set_up(checkout):
        return run_here(arguments)
    if stamp.digest(checkout.lock) not in stamp.read(checkout).locks:
        print(CHANGED, file=sys.stderr)
    sys.stdout.flush()
    os.execve(  # noqa: S606  (a fixed program, no shell)
        checkout.python, [str(checkout.python), str(checkout.manage), *arguments], stamp.clean_environment()
    )


def runs_inside(checkout: Checkout) -> bool:
    return Path(sys.prefix).resolve() == checkout.venv.resolve()


def run_here(arguments: Sequence[str]) -> int:
    if not all(find_spec(name) for name in NEEDED):
        raise Refusal(FIRST)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopwarranty.settings")
    from django.core.exceptions import ImproperlyConfigured
    from django.core.management import execute_from_command_line
    from django.db import DatabaseError

    try:
        execute_from_command_line(["manage.py", *arguments])
    except ImproperlyConfigured as error:
        raise Refusal(str(error)) from error
    except DatabaseError as error:
        if is_unmigrated(str(error)):
            raise Refusal(NO_TABLES) from error
        raise
    return 0


def is_unmigrated(message: str) -> bool:
    """What SQLite and PostgreSQL say about a table or column that the migrations would make."""
    text = message.lower()
    return (
        "no such table" in text
        or "no such column" in text
        or ("does not exist" in text and "relation" in text)
    )
