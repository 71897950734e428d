"""`serve`: the web server and the worker, until somebody stops them."""

import argparse
import time
from collections.abc import Callable, Sequence
from pathlib import Path

from . import authority, handout, installation, lan, options, ports, stamp, system_packages
from .django_commands import FIRST, NO_TABLES
from .folder import Checkout, data_folder
from .machine import this_machine
from .processes import Supervisor
from .pulse import Pulse, worker_state
from .screen import Refusal, say
from .serving import WORKER, Pair, Place, answers, own_pair, programs
from .system_needs import HTTPS

HERE, EVERYWHERE = "127.0.0.1", "0.0.0.0"  # noqa: S104  (only with --lan)
DEFAULT_ADDRESS = f"http://{HERE}:{options.DEFAULT_PORT}/"
NO_OFFLINE = "without https phones cannot keep work while the network is away; see serve --lan --https"


def serve(checkout: Checkout, arguments: Sequence[str]) -> int:
    chosen = options.serve(arguments)
    if not stamp.is_set_up(checkout):
        raise Refusal(FIRST)
    if installation.django(checkout, "migrate", "--check").returncode:
        raise Refusal(NO_TABLES)
    return run(checkout, chosen, "")


def run(checkout: Checkout, chosen: argparse.Namespace, notes: str) -> int:
    """`notes` are shown below the address once the web server answers."""
    place = place_for(checkout, chosen)
    supervisor = Supervisor(programs(checkout, place))
    if chosen.https:
        hand_out(authority_certificate(checkout), place)
    supervisor.start()
    tell_address = once_answering(place, notes)
    pulse = Pulse(supervisor.watched[WORKER], lambda: worker_state(place))

    def every_round() -> None:
        tell_address()
        pulse.look(time.monotonic())

    return supervisor.watch(every_round)


def place_for(checkout: Checkout, chosen: argparse.Namespace) -> Place:
    host = EVERYWHERE if chosen.lan else HERE
    port = ports.choose(chosen.port, host, ports.asker())
    names = (*lan.addresses(), lan.local_name()) if chosen.lan else ()
    return Place(host, port, names, pair_for(checkout, chosen, names))


def pair_for(checkout: Checkout, chosen: argparse.Namespace, names: Sequence[str]) -> Pair | None:
    if bool(chosen.certfile) != bool(chosen.keyfile):
        raise Refusal("--certfile and --keyfile go together.")
    if pair := own_pair(chosen.certfile, chosen.keyfile):
        return readable(pair)
    if not chosen.https:
        return None
    if not chosen.lan:
        raise Refusal("--https makes a certificate for the shop's own network: add --lan.")
    system_packages.see_to(HTTPS, this_machine())
    for name in names:
        if not authority.may_vouch_for(name):
            say("No https for", f"{name}: it is not an address of a private network")
    inside = [name for name in names if authority.may_vouch_for(name)]
    return authority.see_to(folder_of(checkout), [*inside, "localhost", HERE])


def readable(pair: Pair) -> Pair:
    for path in (pair.certificate, pair.key):
        if not path.is_file():
            raise Refusal(f"There is no file {path}.")
    return pair


def folder_of(checkout: Checkout) -> Path:
    return data_folder(checkout) / "bay-certificate"


def authority_certificate(checkout: Checkout) -> Path:
    return folder_of(checkout) / "authority.crt"


def hand_out(certificate: Path, place: Place) -> None:
    port = ports.next_free(place.port, EVERYWHERE)
    handout.start(certificate, EVERYWHERE, port)
    for address in place.names[:-1]:
        say("Once per phone", f"http://{address}:{port}/ gives the certificate to trust (how: README)")
    say("Its fingerprint", authority.fingerprint(certificate))


def once_answering(place: Place, notes: str) -> Callable[[], None]:
    """To be called again and again; tells the address the first time the web server answers."""
    told = False

    def look() -> None:
        nonlocal told
        if not told and answers(place.port):
            told = True
            announce(place, notes)

    return look


def announce(place: Place, notes: str) -> None:
    print()
    say("Open", place.address("localhost"))
    for name in place.names:
        say("In the network", place.address(name))
    if place.names and not place.pair:
        say("No https", NO_OFFLINE)
    print(notes.replace(DEFAULT_ADDRESS, place.address("localhost")), end="", flush=True)
    say("To stop", "Ctrl-C stops the web server and the worker")
