"""Whether what is kept of a certificate still agrees: bytes, snapshot, hashes, and the row's own columns."""

import re
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from shopwarranty.shops import stored_bytes

from .frozen_json import canonical, hash_of
from .models import Certificate
from .snapshot_parts import read_snapshot

_STREAM = re.compile(rb"stream\r?\n(.*?)\r?\nendstream", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Fault:
    certificate: str
    what: str


def faults_of(certificate: Certificate) -> Iterator[Fault]:
    """Nothing when everything agrees. Only the names of what does not, never the contents.

    Of a certificate whose personal data were erased after its time there is no paper left to compare.
    """
    if not certificate.pdf_sha256:
        return
    name = f"{certificate.number}, edition {certificate.edition}"
    for what in (*_file_faults(certificate), *_snapshot_faults(certificate), *_cover_faults(certificate)):
        yield Fault(name, what)


def _file_faults(certificate: Certificate) -> Iterator[str]:
    try:
        content = stored_bytes.read(certificate.pdf_sha256)
    except stored_bytes.DamagedFile as damage:
        yield str(damage)
        return
    if len(content) != certificate.pdf_length:
        yield f"The file has {len(content)} bytes instead of {certificate.pdf_length}."
    if not names_snapshot(content, certificate.snapshot_sha256):
        yield "The file was not printed from the stored snapshot."


def names_snapshot(pdf: bytes, sha256: str) -> bool:
    """Whether the PDF carries the snapshot's hash, in plain sight or in one of its compressed streams."""
    wanted = f"snapshot-sha256-{sha256}".encode()
    return wanted in pdf or any(wanted in _inflated(found[1]) for found in _STREAM.finditer(pdf))


def _inflated(stream: bytes) -> bytes:
    try:
        return zlib.decompressobj().decompress(stream, 10_000_000)
    except zlib.error:
        return b""


def _snapshot_faults(certificate: Certificate) -> Iterator[str]:
    if hash_of(certificate.snapshot) != certificate.snapshot_sha256:
        yield "The snapshot was changed after issue."
    shot = read_snapshot(certificate.snapshot)
    if canonical(as_older(shot.as_json(), certificate.snapshot)) != canonical(certificate.snapshot):
        yield "The snapshot is not complete."
    columns = ("number", "edition", "code", "issued_on", "starts_on", "last_day", "language")
    for column in columns:
        if getattr(shot, column) != getattr(certificate, column):
            yield f"{column} differs between the row and the snapshot."


def as_older(written: Any, stored: Any) -> Any:
    """As the writer of that time would have written it: without empty fields that came later."""
    if isinstance(written, dict) and isinstance(stored, dict):
        kept = {key: value for key, value in written.items() if key in stored or value not in ("", None, [])}
        return {key: as_older(value, stored.get(key)) for key, value in kept.items()}
    if isinstance(written, list) and isinstance(stored, list) and len(written) == len(stored):
        return [as_older(*pair) for pair in zip(written, stored, strict=True)]
    return written


def _cover_faults(certificate: Certificate) -> Iterator[str]:
    """Each promise of the snapshot is a row for each of its film pieces, and there are no others."""
    shot = read_snapshot(certificate.snapshot)
    said = {
        (piece, promise.line_id, promise.first_day, promise.last_day)
        for promise in shot.promises
        for piece in promise.pieces
    }
    kept = set(certificate.covers.values_list("piece", "line", "starts_on", "last_day"))
    if said != kept:
        yield "The covers differ from what the snapshot promises."
