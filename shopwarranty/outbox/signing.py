"""Signed calls between this program and others, by the open Standard Webhooks specification.

Three headers: `webhook-id`, `webhook-timestamp` (seconds), `webhook-signature` ("v1," and the base64 of the
HMAC-SHA256 of "id.timestamp.body"; several, separated by spaces, while a secret is changed). Pure.
"""

import base64
import binascii
import hashlib
import hmac
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

TOLERANCE: Final = timedelta(minutes=5)
PREFIX: Final = "whsec_"
LEAST_SECRET: Final = 24


class NotSigned(ValueError):
    """The call does not carry a signature that holds now."""


@dataclass(frozen=True, slots=True)
class Signed:
    """A call whose signature holds; `call` is its id, to be accepted once."""

    call: str
    at: int


def key_of(secret: str) -> bytes:
    """The bytes of a secret written as whsec_ and base64; ValueError for any other text or a short one."""
    if not secret.startswith(PREFIX):
        raise ValueError(f"a secret starts with {PREFIX}")
    try:
        key = base64.b64decode(secret.removeprefix(PREFIX), validate=True)
    except binascii.Error as problem:
        raise ValueError("a secret is base64 after its prefix") from problem
    if len(key) < LEAST_SECRET:
        raise ValueError(f"a secret has at least {LEAST_SECRET} bytes")
    return key


def signature(secret: str, call: str, at: int, body: bytes) -> str:
    content = f"{call}.{at}.".encode() + body
    return "v1," + base64.b64encode(hmac.digest(key_of(secret), content, hashlib.sha256)).decode()


def headers_for(secret: str, call: str, at: datetime, body: bytes) -> dict[str, str]:
    seconds = int(at.timestamp())
    return {
        "webhook-id": call,
        "webhook-timestamp": str(seconds),
        "webhook-signature": signature(secret, call, seconds, body),
    }


def verify(secret: str, headers: Mapping[str, str], body: bytes, now: datetime) -> Signed:
    """Raises NotSigned. Compared in constant time; a call too old or from the future does not hold."""
    call, said = headers.get("webhook-id", ""), headers.get("webhook-timestamp", "")
    if not call or len(call) > 100 or not said.isdecimal() or len(said) > 12:
        raise NotSigned("headers are missing")
    at = int(said)
    wanted = signature(secret, call, at, body)
    given = headers.get("webhook-signature", "").split(" ")[:5]
    same = [hmac.compare_digest(wanted.encode(), each.encode()) for each in given]
    if not any(same):
        raise NotSigned("the signature is not ours")
    if abs(now.timestamp() - at) > TOLERANCE.total_seconds():
        raise NotSigned("the call is too old")
    return Signed(call, at)
