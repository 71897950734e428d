"""Handing a message to a service that the operator chose, by a signed call over https.

The address is the operator's, never a shop's. Still it is only called when its host is on the operator's list
and every address it resolves to is a public one; that address is then connected to, so that a name which
changes its mind in between leads nowhere. Redirects are not followed.
"""

import http.client
import ipaddress
import json
import socket
import ssl
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Final
from urllib.parse import urlsplit

from django.conf import settings
from django.utils import timezone

from ..models import Message
from ..signing import headers_for
from .base import Fate, Outcome, call_id

TIMEOUT: Final = 10
LONGEST_ANSWER: Final = 4096
NAT64: Final = ipaddress.ip_network("64:ff9b::/96")  # RFC 6052
Resolve = Callable[[str, int], list[str]]


class NotAllowed(ValueError):
    """An address that is not called."""


@dataclass(frozen=True, slots=True)
class Target:
    """Where calls go. `plain`: without TLS and to any address, for tests on this machine alone."""

    host: str
    port: int
    path: str
    secret: str = field(repr=False)
    plain: bool = False


def hook_target() -> Target | None:
    """From the settings; None when no hook is set."""
    url = settings.TEXT_HOOK_URL
    return target_of(url, settings.TEXT_HOOK_SECRET, settings.TEXT_HOOK_HOSTS) if url else None


def target_of(url: str, secret: str, hosts: list[str]) -> Target:
    parts = urlsplit(url)
    if parts.scheme != "https" or not parts.hostname or parts.username or parts.password:
        raise NotAllowed("a hook has an https address without a name and password in it")
    if parts.hostname not in hosts:
        raise NotAllowed(f"{parts.hostname} is not on the list of hosts")
    path = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    return Target(parts.hostname, parts.port or 443, path, secret)


def addresses_of(host: str, port: int) -> list[str]:
    found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    return [str(each[4][0]) for each in found]


def public_address(host: str, port: int, resolve: Resolve) -> str:
    """The address to connect to. Raises NotAllowed when any that the name leads to is not a public one."""
    found = resolve(host, port)
    for each in found:
        if not is_public(each.partition("%")[0]):
            raise NotAllowed(f"{host} leads to {each}, which is not a public address")
    if not found:
        raise NotAllowed(f"{host} leads nowhere")
    return found[0]


def is_public(text: str) -> bool:
    """A global unicast address; one that carries an IPv4 address inside may lead anywhere and is not."""
    address = ipaddress.ip_address(text)
    carries = isinstance(address, ipaddress.IPv6Address) and bool(
        address.ipv4_mapped or address.sixtofour or address.teredo or address in NAT64
    )
    return address.is_global and not address.is_multicast and not carries


class HookChannel:
    def __init__(self, target: Target, resolve: Resolve = addresses_of) -> None:
        self.target, self.resolve = target, resolve

    def send(self, message: Message) -> Outcome:
        body = json.dumps(payload(message), ensure_ascii=False).encode()
        headers = {
            "content-type": "application/json",
            "user-agent": "shopwarranty",
            **headers_for(self.target.secret, call_id(message), timezone.now(), body),
        }
        try:
            connection = self.connect()
        except NotAllowed as error:
            return Outcome(Fate.REFUSED, str(error))
        except OSError as error:
            return Outcome(Fate.LATER, f"the hook cannot be reached: {error}")
        try:
            return self.ask(connection, body, headers)
        finally:
            connection.close()

    def ask(self, connection: Any, body: bytes, headers: dict[str, str]) -> Outcome:
        try:
            connection.request("POST", self.target.path, body, headers)
            answer = connection.getresponse()
            answer.read(LONGEST_ANSWER)
        except (OSError, http.client.HTTPException) as error:
            return Outcome(Fate.UNKNOWN, f"no answer from the hook: {error or type(error).__name__}")
        return outcome_of(answer.status)

    def connect(self) -> http.client.HTTPConnection:
        """Connected to the address that was looked at, in the name that was asked for."""
        target = self.target
        if target.plain:
            plain = http.client.HTTPConnection(target.host, target.port, timeout=TIMEOUT)
            plain.connect()
            return plain
        address = public_address(target.host, target.port, self.resolve)
        context = ssl.create_default_context()
        connection = http.client.HTTPSConnection(target.host, target.port, timeout=TIMEOUT, context=context)
        bare = socket.create_connection((address, target.port), timeout=TIMEOUT)
        connection.sock = context.wrap_socket(bare, server_hostname=target.host)
        return connection

    def close(self) -> None: ...


def payload(message: Message) -> dict[str, Any]:
    return {
        "channel": message.channel,
        "to": message.to,
        "text": message.text,
        "language": message.language,
        "from": message.shop.name,
    }


def outcome_of(status: int) -> Outcome:
    if 200 <= status < 300:
        return Outcome(Fate.SENT)
    said = f"the hook answered {status}"
    if status == 429 or status >= 500:
        return Outcome(Fate.LATER, said)
    return Outcome(Fate.REFUSED, said, bad_address=status in {404, 410, 422})
