"""Brings a backup into an installation that holds nothing yet, and proves that all of it arrived.

What was done after the backup is not in it: certificates may have been issued and mails sent. So every shop
opens a new series of certificate numbers, and mails that were waiting are parked for people to look at.
"""

import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.contrib.sessions.models import Session
from django.core.files.base import File
from django.core.files.storage import default_storage
from django.core.management import call_command
from django.db import DatabaseError, transaction

from shopwarranty.outbox.models import Message
from shopwarranty.shops.history import Actor, record_change
from shopwarranty.shops.models import Member, Shop
from shopwarranty.shops.scope import every_shop, shop_scope
from shopwarranty.warranty.numbers import SERIES_LETTERS

from . import database_copy
from .archive import MEDIA, OWN, BadArchive, Reader, digest_of, whole_file

PARKED_WORDS = "Waiting when the backup of {made} was made. Whether it was sent afterwards is not known."


class NotEmpty(Exception):
    """There are shops here already; a restore would wipe them out."""


class OtherDatabase(Exception):
    """The backup is of the other kind of database."""


class Incomplete(Exception):
    """Something did not arrive as it was sent; the reasons, one a line."""


@dataclass(frozen=True, slots=True)
class Restored:
    made_at: str
    tables: int
    rows: int
    files: int
    own: int
    parked: int
    series: Mapping[str, str]


def restore(*, path: Path, pass_phrase: str, now: datetime) -> Restored:
    """Raises NotEmpty, BadArchive, OtherDatabase (nothing written) or Incomplete."""
    refuse_when_in_use()
    reader = Reader(path, pass_phrase)
    if reader.manifest.engine != database_copy.engine():
        raise OtherDatabase
    reader.prove()
    files = put_files(reader)
    own = put_own(reader)
    try:
        rows = put_database(reader)
        call_command("migrate", verbosity=0, interactive=False)
        parked, series = settle(reader.manifest.made_at, now)
    except (DatabaseError, Incomplete) as error:
        # Half brought back, it would give out numbers and send mails again.
        database_copy.empty()
        raise Incomplete(str(error)) from error
    return Restored(reader.manifest.made_at, len(rows), sum(rows.values()), files, own, parked, series)


def refuse_when_in_use() -> None:
    try:
        shops = list(Shop.objects.values_list("slug", flat=True)[:5])
    except DatabaseError:  # no tables yet
        return
    if shops:
        raise NotEmpty(", ".join(shops))


def put_files(reader: Reader) -> int:
    """Files lie under their hash, so that one that is there already is the same one."""
    names = reader.names(MEDIA)
    for name in names:
        stored = name.removeprefix(MEDIA)
        if not default_storage.exists(stored):
            with reader.open(name) as source:
                default_storage.save(stored, File(source, name=stored))
    expected = {entry.name: (entry.sha256, entry.length) for entry in reader.manifest.entries}
    wrong = [name for name in names if stored_digest(name.removeprefix(MEDIA)) != expected[name]]
    if wrong:
        raise Incomplete("\n".join(f"{name} did not arrive whole." for name in wrong))
    return len(names)


def stored_digest(name: str) -> tuple[str, int]:
    with default_storage.open(name) as source:
        return digest_of(source)


def put_own(reader: Reader) -> int:
    """Keys of the backup take the place of those that this installation made at its first start."""
    names = reader.names(OWN)
    for name in names:
        with reader.open(name) as source, whole_file(Path(settings.DATA_DIR) / Path(name).name) as target:
            target.write(source.read())
    return len(names)


def put_database(reader: Reader) -> dict[str, int]:
    """Gives the rows of each table, which are those that the backup counted."""
    with tempfile.TemporaryDirectory(dir=settings.DATA_DIR, prefix=".restore-") as folder:
        copy = Path(folder) / "database"
        with reader.open(reader.manifest.database) as source, copy.open("wb") as target:
            while chunk := source.read(1024 * 1024):
                target.write(chunk)
        database_copy.put_back(copy)
    found = database_copy.rows_now()
    said = reader.manifest.rows
    wrong = [table for table in said if found.get(table) != said[table]]
    if wrong:
        raise Incomplete(
            "\n".join(f"{name}: {found.get(name)} rows instead of {said[name]}." for name in wrong)
        )
    return found


@transaction.atomic
def settle(made_at: str, now: datetime) -> tuple[int, dict[str, str]]:
    """New number series, parked mails, everybody signed out. Gives how many mails and each shop's letter."""
    with every_shop():
        waiting = Message.objects.filter(state__in=[Message.State.WAITING, Message.State.SENDING])
        parked = waiting.update(
            state=Message.State.PARKED, settled_at=now, error=PARKED_WORDS.format(made=made_at)
        )
    Session.objects.all().delete()
    return parked, {shop.slug: open_series(shop, now) for shop in Shop.objects.order_by("pk")}


def open_series(shop: Shop, now: datetime) -> str:
    before, letter = shop.number_series, next_letter(shop.number_series)
    Shop.objects.filter(pk=shop.pk).update(number_series=letter)
    with shop_scope(shop):
        member = Member.objects.order_by("pk").first()
        if member is not None:
            record_change(
                row=member,
                act="restored from a backup",
                actor=Actor("the operator"),
                at=now,
                before={"number_series": before},
                after={"number_series": letter},
            )
    return letter


def next_letter(series: str) -> str:
    """Raises Incomplete after the last one."""
    letters = SERIES_LETTERS[1:]  # a first series carries none; B says "the second"
    at = letters.index(series) + 1 if series else 0
    if at >= len(letters):
        raise Incomplete("All letters for series of certificate numbers are used: choose a new prefix first.")
    return letters[at]


__all__ = ["BadArchive", "Incomplete", "NotEmpty", "OtherDatabase", "Restored", "restore"]
