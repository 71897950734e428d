"""Makes a backup, and throws the oldest away."""

import hashlib
import os
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Final

from django.conf import settings
from django.core.files.storage import default_storage

from shopwarranty.shops.stored_bytes import all_names

from . import archive, database_copy
from .archive import MEDIA, OWN, Manifest, Writer, whole_file

NAME: Final = "shopwarranty-{:%Y-%m-%d-%H%M%S}.backup"
PATTERN: Final = "shopwarranty-*.backup"
DATABASE: Final = "database"
HOLDS: Final = "holds"  # whether the folder holds the demo shop or a real one


class KeysNeedPassPhrase(Exception):
    """Keys travel only in a backup that has a pass phrase."""


@dataclass(frozen=True, slots=True)
class Made:
    path: Path
    files: int
    size: int
    damaged: tuple[str, ...]


def back_up(*, path: Path, now: datetime, pass_phrase: str = "", with_keys: bool = False) -> Made:
    """The database first, then the files: a row never names a file that came later than the row.

    Raises KeysNeedPassPhrase, database_copy.CannotCopy or OSError; then nothing is left behind.
    """
    if with_keys and not pass_phrase:
        raise KeysNeedPassPhrase
    path.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=path.parent, prefix=".backup-") as folder, whole_file(path) as file:
        writer = Writer(file, pass_phrase)
        try:
            rows = add_database(writer, Path(folder) / DATABASE)
            damaged = tuple(add_media(writer))
            add_own(writer, [HOLDS, *(key_files() if with_keys else [])])
            made_at, entries = now.isoformat(timespec="seconds"), tuple(writer.entries)
            engine = database_copy.engine()
            writer.close(Manifest(archive.FORMAT, made_at, engine, DATABASE, rows, entries, damaged))
        except BaseException:
            writer.give_up()
            raise
    return Made(path, len(entries), path.stat().st_size, damaged)


def add_database(writer: Writer, copy: Path) -> dict[str, int]:
    """Gives how many rows each table holds."""
    rows = database_copy.copy_to(copy)
    with copy.open("rb") as source:
        writer.add(DATABASE, source)
    copy.unlink()
    return rows


def add_media(writer: Writer) -> Iterator[str]:
    """Every stored file; gives the names of those that no longer are what their name says."""
    for name in sorted(all_names()):
        with default_storage.open(name) as source:
            entry = writer.add(MEDIA + name, source, squeeze=False)
        if entry.sha256 != Path(name).name:
            yield name


def key_files() -> list[str]:
    """What signs and seals here: without it, links in mails and signatures of this installation end.

    The settings may name the mail server with its password.
    """
    keys = sorted(path.name for path in Path(settings.DATA_DIR).glob("*.key"))
    return ["secret_key", "settings.env", *keys]


def add_own(writer: Writer, names: Sequence[str]) -> None:
    """Those of the data folder's own files that are there."""
    for name in names:
        path = Path(settings.DATA_DIR) / name
        if path.is_file():
            with path.open("rb") as source:
                writer.add(OWN + name, source)


def backups_in(folder: Path) -> list[Path]:
    """Oldest first."""
    return sorted(folder.glob(PATTERN))


def throw_away(folder: Path, keep: int) -> list[Path]:
    """All but the newest `keep`."""
    old = backups_in(folder)[:-keep] if keep else []
    for path in old:
        os.unlink(path)
    return old


def fingerprint(path: Path) -> str:
    """SHA-256 of the backup itself, to be written down elsewhere."""
    digest = hashlib.sha256()
    with path.open("rb") as source:
        for chunk in archive.chunks(source):
            digest.update(chunk)
    return digest.hexdigest()
