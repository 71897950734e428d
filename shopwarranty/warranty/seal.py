"""Sealing signing keys: AES-256-GCM under a key that is kept outside database and backup."""

import base64
import binascii
import os
import secrets
from pathlib import Path

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from django.conf import settings
from django.core.exceptions import ImproperlyConfigured

LENGTH = 32
NONCE = 12


class SealLost(Exception):
    """The seal of this installation does not open it: it is another one, or the bytes changed."""


def seal(content: bytes, about: bytes) -> bytes:
    """`about` is bound to it: sealed bytes of one shop do not open as those of another."""
    nonce = secrets.token_bytes(NONCE)
    return nonce + AESGCM(seal_key()).encrypt(nonce, content, about)


def unseal(sealed: bytes, about: bytes) -> bytes:
    """Raises SealLost."""
    try:
        return AESGCM(seal_key()).decrypt(sealed[:NONCE], sealed[NONCE:], about)
    except (InvalidTag, ValueError) as problem:
        raise SealLost from problem


def seal_key() -> bytes:
    """From the setting, else from its file, which the first signature makes. Raises ImproperlyConfigured."""
    typed = settings.SIGNING_SEAL or from_file(Path(settings.SIGNING_SEAL_FILE))
    try:
        key = base64.urlsafe_b64decode(typed)
    except (binascii.Error, ValueError) as problem:
        raise ImproperlyConfigured("SHOPWARRANTY_SIGNING_SEAL is not base64.") from problem
    if len(key) != LENGTH:
        raise ImproperlyConfigured("SHOPWARRANTY_SIGNING_SEAL needs 32 bytes, as urlsafe base64.")
    return key


def from_file(path: Path) -> str:
    """Two that make it at once agree: only one creates the file, and both read it."""
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        own = path.with_name(f"{path.name}.{secrets.token_hex(4)}")
        descriptor = os.open(own, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "wb") as file:
            file.write(base64.urlsafe_b64encode(secrets.token_bytes(LENGTH)))
        try:
            os.link(own, path)
        except FileExistsError:
            pass
        finally:
            own.unlink()
    return path.read_text().strip()
