"""One file that holds an installation: the database, every stored file, keys by choice, and a manifest.

An ordinary ZIP; with a pass phrase its entries are encrypted with AES-256 (WinZip's AE-2), which common
programs open too. `manifest.json` names every entry with its SHA-256 and says what the database held.
"""

import hashlib
import json
import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import IO, Any, Final
from zlib import error as BadStream

import pyzipper

FORMAT: Final = 1
MANIFEST: Final = "manifest.json"
MEDIA, OWN = "media/", "own/"
CHUNK: Final = 1024 * 1024
UNREADABLE: Final = (pyzipper.BadZipFile, BadStream, RuntimeError, NotImplementedError, ValueError, OSError)


class BadArchive(Exception):
    """The file is no whole backup, or the pass phrase is not its own."""


@dataclass(frozen=True, slots=True)
class Entry:
    name: str
    sha256: str
    length: int


@dataclass(frozen=True, slots=True)
class Manifest:
    """`rows`: how many each table holds. `damaged`: files that were not what their name says."""

    format: int
    made_at: str
    engine: str
    database: str
    rows: Mapping[str, int]
    entries: tuple[Entry, ...] = ()
    damaged: tuple[str, ...] = field(default=())

    @classmethod
    def read(cls, text: bytes) -> "Manifest":
        said = json.loads(text)
        if said.get("format") != FORMAT:
            raise BadArchive(f"This backup has format {said.get('format')}; this program reads {FORMAT}.")
        entries = tuple(Entry(**entry) for entry in said.pop("entries"))
        return cls(**{**said, "entries": entries, "damaged": tuple(said["damaged"])})

    def written(self) -> bytes:
        return json.dumps(asdict(self), indent=1, sort_keys=True).encode()


class Writer:
    """Adds entries and remembers their hashes; the manifest comes last."""

    def __init__(self, file: IO[bytes], pass_phrase: str) -> None:
        encryption = pyzipper.WZ_AES if pass_phrase else None
        self.zip = pyzipper.AESZipFile(file, "w", compression=pyzipper.ZIP_DEFLATED, encryption=encryption)
        if pass_phrase:
            self.zip.setpassword(pass_phrase.encode())
        self.entries: list[Entry] = []

    def add(self, name: str, source: IO[bytes], *, squeeze: bool = True) -> Entry:
        """`squeeze`: photos and PDFs are small already."""
        about = pyzipper.AESZipFile.zipinfo_cls(name)
        about.compress_type = pyzipper.ZIP_DEFLATED if squeeze else pyzipper.ZIP_STORED
        digest, length = hashlib.sha256(), 0
        with self.zip.open(about, "w", force_zip64=True) as target:
            for chunk in chunks(source):
                digest.update(chunk)
                length += len(chunk)
                target.write(chunk)
        self.entries.append(Entry(name, digest.hexdigest(), length))
        return self.entries[-1]

    def close(self, manifest: Manifest) -> None:
        self.zip.writestr(MANIFEST, manifest.written())
        self.zip.close()

    def give_up(self) -> None:
        """Nothing more is written, not even the list of contents that a ZIP ends with."""
        self.zip.fp = None


@contextmanager
def whole_file(path: Path) -> Iterator[IO[bytes]]:
    """There in full or not at all, and on the disk before it has its name."""
    beside = path.with_name(f".{path.name}.part")
    try:
        descriptor = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(descriptor, "wb") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)


class Reader:
    """A backup whose every entry can be held against the manifest."""

    def __init__(self, path: Path, pass_phrase: str) -> None:
        try:
            self.zip = pyzipper.AESZipFile(path)
            if pass_phrase:
                self.zip.setpassword(pass_phrase.encode())
            self.manifest = Manifest.read(self.zip.read(MANIFEST))
        except KeyError as error:
            raise BadArchive("This file holds no manifest: it is no backup of this program.") from error
        except UNREADABLE as error:
            raise BadArchive(reason(error)) from error

    def names(self, under: str) -> list[str]:
        return [entry.name for entry in self.manifest.entries if entry.name.startswith(under)]

    @contextmanager
    def open(self, name: str) -> Iterator[IO[bytes]]:
        with self.zip.open(name) as source:
            yield source

    def prove(self) -> None:
        """Reads everything once. Raises BadArchive naming the first entry that is not what was written."""
        for entry in self.manifest.entries:
            try:
                with self.open(entry.name) as source:
                    found = digest_of(source)
            except (KeyError, *UNREADABLE) as error:
                raise BadArchive(f"{entry.name}: {reason(error)}") from error
            if found != (entry.sha256, entry.length):
                raise BadArchive(f"{entry.name} is not what was written into the backup.")


def reason(error: Exception) -> str:
    text = str(error)
    if "password" in text.lower():
        return "The pass phrase is missing or not the one the backup was made with."
    return text or type(error).__name__


def digest_of(source: IO[bytes]) -> tuple[str, int]:
    digest, length = hashlib.sha256(), 0
    for chunk in chunks(source):
        digest.update(chunk)
        length += len(chunk)
    return digest.hexdigest(), length


def chunks(source: Any) -> Iterator[bytes]:
    while chunk := source.read(CHUNK):
        yield chunk
