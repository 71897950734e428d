"""Which command was meant."""

import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from . import django_commands, quickstart, serve, settings_file, testing
from .folder import Checkout, data_folder
from .screen import Refusal

REFUSED, INTERRUPTED = 2, 130
Command = Callable[[Checkout, Sequence[str]], int]
OURS: dict[str, Command] = {
    "quickstart": quickstart.quickstart,
    "serve": serve.serve,
    "test": testing.test,
}


def run(root: str, arguments: Sequence[str]) -> int:
    """Gives the exit code: 0 done, 2 refused with the reason on stderr."""
    checkout = Checkout(Path(root))
    command = arguments[0] if arguments else ""
    try:
        if command == "test":
            return testing.test(checkout, arguments[1:])
        settings_file.load(data_folder(checkout))
        if command in OURS:
            return OURS[command](checkout, arguments[1:])
        return django_commands.run(checkout, arguments)
    except Refusal as refusal:
        print(refusal, file=sys.stderr)
        return REFUSED
    except KeyboardInterrupt:
        print(file=sys.stderr)
        return INTERRUPTED
    except BrokenPipeError:  # somebody reads only the first lines of what we print
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
