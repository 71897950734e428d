"""The addresses of this machine in the shop's own network."""

import ipaddress
import socket

# Reserved for documentation: asking for the way there finds our own address and sends nothing.
ELSEWHERE = ("192.0.2.1", 9)


def addresses() -> tuple[str, ...]:
    found = [*outgoing(), *by_name()]
    usable = (address for address in found if not ipaddress.ip_address(address).is_loopback)
    return tuple(dict.fromkeys(usable))


def outgoing() -> list[str]:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(ELSEWHERE)
            return [str(probe.getsockname()[0])]
        except OSError:
            return []


def by_name() -> list[str]:
    try:
        return socket.gethostbyname_ex(socket.gethostname())[2]
    except OSError:
        return []


def local_name() -> str:
    """The name that phones can resolve by multicast DNS where the network allows it."""
    return f"{socket.gethostname().split('.')[0].lower()}.local"
