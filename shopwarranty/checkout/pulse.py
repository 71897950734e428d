"""Noticing a worker that runs but does nothing: its queue can hang when one of its processes is killed."""

import http.client
import json
import signal
import ssl
from collections.abc import Callable
from dataclasses import dataclass

from .processes import Watched
from .screen import Say, say
from .serving import Place

LOOK_SECONDS = 60.0
# Longer than the health page waits for the worker's next pass.
GRACE_SECONDS = 360.0
SILENT = "silent"


@dataclass(slots=True)
class Pulse:
    """`state` gives what the health page says of the worker; empty when the page does not answer."""

    worker: Watched
    state: Callable[[], str]
    tell: Say = say
    next_look: float = 0.0

    def look(self, now: float) -> None:
        """Ends a silent worker, which the supervisor then starts again."""
        if now < self.next_look or not self.worker.process or now - self.worker.started < GRACE_SECONDS:
            return
        self.next_look = now + LOOK_SECONDS
        if self.state() == SILENT:
            self.tell("Starting again", "the worker has not finished a pass for too long")
            self.worker.signal_group(signal.SIGKILL)


def worker_state(place: Place) -> str:
    try:
        return str(json.loads(get(place, "/health/"))["worker"])
    except (OSError, ValueError, KeyError, TypeError, http.client.HTTPException):
        return ""


def get(place: Place, path: str) -> bytes:
    """Asks our own server on this machine, whatever name its certificate carries."""
    if place.pair:
        any_name = ssl._create_unverified_context()  # noqa: S323
        connection: http.client.HTTPConnection = http.client.HTTPSConnection(
            "127.0.0.1", place.port, timeout=10, context=any_name
        )
    else:
        connection = http.client.HTTPConnection("127.0.0.1", place.port, timeout=10)
    try:
        connection.request("GET", path, headers={"Host": "localhost"})
        return connection.getresponse().read()
    finally:
        connection.close()
