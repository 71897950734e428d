"""Files that were sent to be checked and wait for "take it in": under their hash, for a day at most.

They hold customers' data, so they are gone once they were taken in, another pair is sent, or a day is over.
"""

import hashlib
import re
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, Final

from django.core.files.storage import default_storage
from django.core.files.uploadedfile import UploadedFile

from shopwarranty.shops.models import Shop

from .checking import Files

FOLDER: Final = "imports"
KEPT_FOR: Final = timedelta(days=1)
BLOCK: Final = 1 << 18
HASH: Final = re.compile(r"[0-9a-f]{64}")


class NothingPending(Exception):
    """The files are gone: taken in already, replaced by others, or too old."""


@dataclass(frozen=True, slots=True)
class Pending:
    """Hashes and names of the two files; the second may be missing."""

    jobs: str
    jobs_name: str
    findings: str = ""
    findings_name: str = ""


def keep(shop: Shop, jobs: UploadedFile, findings: UploadedFile | None) -> Pending:
    names = [Path(file.name or "").name[:100] if file else "" for file in (jobs, findings)]
    return Pending(_keep(shop, jobs), names[0], _keep(shop, findings) if findings else "", names[1])


def _keep(shop: Shop, file: UploadedFile) -> str:
    digest = hashlib.sha256()
    for block in file.chunks():
        digest.update(block)
    path = path_of(shop, digest.hexdigest())
    if not default_storage.exists(path):
        file.seek(0)
        default_storage.save(path, file)
    return digest.hexdigest()


def path_of(shop: Shop, sha256: str) -> str:
    return f"{FOLDER}/{shop.pk}/{sha256}"


def remember(session: Any, shop: Shop, pending: Pending | None) -> None:
    """In the session of whoever sent them; None forgets them."""
    if pending is None:
        session.pop(f"{FOLDER}:{shop.slug}", None)
    else:
        session[f"{FOLDER}:{shop.slug}"] = asdict(pending)


def recall(session: Mapping[str, Any], shop: Shop) -> Pending:
    """Raises NothingPending."""
    kept = session.get(f"{FOLDER}:{shop.slug}")
    if not kept or not default_storage.exists(path_of(shop, kept["jobs"])):
        raise NothingPending
    return Pending(**kept)


@contextmanager
def on_disk(shop: Shop, pending: Pending) -> Iterator[Files]:
    """Both as files of this machine, whatever the store is. Raises NothingPending."""
    with ExitStack() as stack:
        jobs = stack.enter_context(_copied(shop, pending.jobs))
        findings = stack.enter_context(_copied(shop, pending.findings)) if pending.findings else None
        yield Files(jobs, findings, pending.jobs_name, pending.findings_name)


@contextmanager
def _copied(shop: Shop, sha256: str) -> Iterator[Path]:
    with tempfile.NamedTemporaryFile() as copy:
        try:
            with default_storage.open(path_of(shop, sha256)) as kept:
                while block := kept.read(BLOCK):
                    copy.write(block)
        except FileNotFoundError as error:
            raise NothingPending from error
        copy.flush()
        yield Path(copy.name)


def forget(shop: Shop, pending: Pending) -> None:
    for sha256 in filter(None, (pending.jobs, pending.findings)):
        default_storage.delete(path_of(shop, sha256))


def sweep(now: datetime) -> int:
    """Deletes what waited for more than a day, of every shop. Returns how many files."""
    swept = 0
    for shop_folder in _listed(FOLDER)[0]:
        folder = f"{FOLDER}/{shop_folder}"
        for name in filter(HASH.fullmatch, _listed(folder)[1]):
            if now - default_storage.get_modified_time(f"{folder}/{name}") > KEPT_FOR:
                default_storage.delete(f"{folder}/{name}")
                swept += 1
    return swept


def _listed(folder: str) -> tuple[list[str], list[str]]:
    try:
        folders, files = default_storage.listdir(folder)
    except FileNotFoundError:
        return [], []
    return folders, files
