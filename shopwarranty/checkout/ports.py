"""Finding a port to listen on."""

import socket
from collections.abc import Callable

from .screen import Refusal, Say, interactive, say

FIRST, LAST = 1, 65535
TRIES = 100
Ask = Callable[[str], str]


def is_free(port: int, host: str = "127.0.0.1") -> bool:
    """Refuses ports that only root may use, since a neighbour of them would do no better."""
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except PermissionError as error:
            raise Refusal(
                f"Port {port} needs the rights of root. Choose one above 1023 with --port."
            ) from error
        except OSError:
            return False
    return True


def next_free(port: int, host: str = "127.0.0.1") -> int:
    last = min(port + TRIES, LAST)
    for candidate in range(port + 1, last + 1):
        if is_free(candidate, host):
            return candidate
    raise Refusal(f"No port is free from {port} to {last}. Choose another with --port.")


def choose(port: int, host: str, ask: Ask | None = None, tell: Say = say) -> int:
    """The wanted port, or the next free one: offered at a terminal, taken and said elsewhere."""
    if is_free(port, host):
        return port
    other = next_free(port, host)
    tell("Port", f"{port} is taken, perhaps by an earlier start of this program; {other} is free")
    if ask and ask(f"Use {other} instead? [Y/n] ").strip().lower() not in ("", "y", "yes"):
        raise Refusal("Nothing was started. Choose a port with --port.")
    return other


def asker() -> Ask | None:
    return input if interactive() else None
