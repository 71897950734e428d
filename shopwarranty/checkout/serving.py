"""The programs that make up a running installation."""

import os
import socket
from dataclasses import dataclass
from pathlib import Path

from .folder import Checkout
from .processes import Program
from .stamp import clean_environment

WORKER = 1


@dataclass(frozen=True, slots=True)
class Pair:
    """A certificate and its key, both PEM."""

    certificate: Path
    key: Path


@dataclass(frozen=True, slots=True)
class Place:
    """Where the web server listens. `host` is 127.0.0.1, or 0.0.0.0 for the whole network."""

    host: str
    port: int
    names: tuple[str, ...] = ()
    pair: Pair | None = None

    def address(self, name: str) -> str:
        return f"{'https' if self.pair else 'http'}://{name}:{self.port}/"


def programs(checkout: Checkout, place: Place) -> tuple[Program, Program]:
    """The web server first, then (WORKER) the worker."""
    environment = environment_for(place)
    return (
        Program("web server", web_command(checkout, place), checkout.root, environment),
        Program("worker", worker_command(checkout), checkout.root, environment),
    )


def web_command(checkout: Checkout, place: Place) -> tuple[str, ...]:
    tls = ("--certfile", str(place.pair.certificate), "--keyfile", str(place.pair.key)) if place.pair else ()
    return (
        *(str(checkout.python), "-m", "gunicorn", "shopwarranty.wsgi:application"),
        *("--bind", f"{place.host}:{place.port}", "--workers", "2", "--worker-class", "gthread"),
        *("--threads", "4", "--timeout", "60", "--graceful-timeout", "10", "--log-level", "warning"),
        "--no-control-socket",
        *tls,
    )


def worker_command(checkout: Checkout) -> tuple[str, ...]:
    return (str(checkout.python), str(checkout.manage), "qcluster")


def environment_for(place: Place) -> dict[str, str]:
    environment = clean_environment()
    if place.names:
        hosts = environment.get("SHOPWARRANTY_HOSTS", "localhost,127.0.0.1,[::1]").split(",")
        environment["SHOPWARRANTY_HOSTS"] = ",".join(dict.fromkeys([*hosts, *place.names]))
    if place.pair:
        environment["SHOPWARRANTY_HTTPS"] = "true"
        # Browsers would remember it for every port of this machine's names, and for a year.
        environment.setdefault("SHOPWARRANTY_HSTS_SECONDS", "0")
    return environment


def answers(port: int) -> bool:
    with socket.socket() as probe:
        probe.settimeout(1)
        return probe.connect_ex(("127.0.0.1", port)) == 0


def own_pair(certificate: str | None, key: str | None) -> Pair | None:
    """The pair that the person named, made independent of the current folder."""
    if not certificate or not key:
        return None
    return Pair(Path(os.path.abspath(certificate)), Path(os.path.abspath(key)))
