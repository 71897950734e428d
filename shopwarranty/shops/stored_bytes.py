"""Files under their SHA-256, written before the row that names them: a row never points to nothing.

They lie on a disk or in a store that speaks S3, by setting; whatever happens there is an OSError here.
"""

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage


class DamagedFile(Exception):
    """The stored bytes are gone or no longer have the hash they are kept under."""


@dataclass(frozen=True, slots=True)
class StoredBytes:
    sha256: str
    length: int


def path_of(sha256: str) -> str:
    return f"{sha256[:2]}/{sha256[2:4]}/{sha256}"


def keep(content: bytes) -> StoredBytes:
    """Stores the bytes once, whoever sends them how often. What a full disk cut short is written anew."""
    sha256 = hashlib.sha256(content).hexdigest()
    path = path_of(sha256)
    if default_storage.exists(path) and default_storage.size(path) != len(content):
        default_storage.delete(path)
    if not default_storage.exists(path):
        default_storage.save(path, ContentFile(content))
    return StoredBytes(sha256, len(content))


def all_names(folder: str = "") -> Iterator[str]:
    """Of everything that is stored, the files of an import that waits included."""
    at_once = getattr(default_storage, "all_names", None)
    if at_once is not None:
        yield from at_once()
        return
    try:
        folders, files = default_storage.listdir(folder)
    except FileNotFoundError:
        return
    for name in files:
        yield f"{folder}/{name}" if folder else name
    for name in folders:
        yield from all_names(f"{folder}/{name}" if folder else name)


def read(sha256: str) -> bytes:
    if not sha256:
        raise DamagedFile("No file is kept.")
    try:
        with default_storage.open(path_of(sha256)) as file:
            content = file.read()
    except FileNotFoundError as error:
        raise DamagedFile(f"The file {sha256[:12]} is missing.") from error
    if hashlib.sha256(content).hexdigest() != sha256:
        raise DamagedFile(f"The file {sha256[:12]} was changed outside the program.")
    return bytes(content)
