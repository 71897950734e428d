"""Looks at everything an operator can get wrong, and says what to do about it."""

import shutil
import stat
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from pathlib import Path
from typing import Final
from urllib.parse import urlsplit

from django.conf import settings
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.mail import get_connection
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django_q.models import Schedule

from shopwarranty.outbox.models import Heartbeat
from shopwarranty.shops import row_security, triggers

from .backing_up import backups_in

ENOUGH_SPACE: Final = 1_000_000_000
FRESH: Final = timedelta(minutes=5)
BACKUP_AGE: Final = timedelta(days=2)
IN_S3: Final = (
    "Look at SHOPWARRANTY_S3_...: the bucket has to be there, its keys may put, get, list and delete."
)


class Mark(StrEnum):
    FINE = "fine"
    LOOK = "look"
    WRONG = "wrong"


@dataclass(frozen=True, slots=True)
class Seen:
    """`what` was found; `remedy` says what to do, empty where all is well."""

    mark: Mark
    what: str
    remedy: str = ""


Look = Callable[[datetime], Iterator[Seen]]


def fine(what: str) -> Seen:
    return Seen(Mark.FINE, what)


def look(what: str, remedy: str) -> Seen:
    return Seen(Mark.LOOK, what, remedy)


def wrong(what: str, remedy: str) -> Seen:
    return Seen(Mark.WRONG, what, remedy)


def looks(*, network: bool) -> tuple[Look, ...]:
    offline: tuple[Look, ...] = (
        secrets,
        addresses,
        database,
        guards,
        files,
        space,
        static_files,
        mail_settings,
        worker,
        clock,
        backups,
    )
    return (*offline, queue, mail_server) if network else offline


def secrets(now: datetime) -> Iterator[Seen]:
    if settings.DEBUG:
        yield wrong(
            "SHOPWARRANTY_DEBUG is on.", "Unset it: pages would show the program's inside to strangers."
        )
    if len(settings.SECRET_KEY) < 50 or len(set(settings.SECRET_KEY)) < 10:
        yield wrong(
            "The secret key is short or simple.", "Set SHOPWARRANTY_SECRET_KEY to 50 random characters."
        )
    loose = [path for path in private_files() if stat.S_IMODE(path.stat().st_mode) & 0o077]
    for path in loose:
        yield wrong(f"{path} can be read by others on this machine.", f"chmod go= {path}")
    if not loose:
        yield fine("Keys and database are private.")


def private_files() -> list[Path]:
    folder = Path(settings.DATA_DIR)
    if not folder.exists() or not stat.S_IMODE(folder.stat().st_mode) & 0o077:
        return []
    found = (
        folder / "secret_key",
        folder / "settings.env",
        folder / "shopwarranty.sqlite3",
        *folder.glob("*.key"),
    )
    return [path for path in found if path.is_file()]


def addresses(now: datetime) -> Iterator[Seen]:
    public = urlsplit(settings.PUBLIC_URL)
    if not public.hostname:
        yield look(
            "No public address.", "Set SHOPWARRANTY_PUBLIC_URL: links in mails and QR codes lead there."
        )
        return
    if public.scheme != "https":
        yield wrong("The public address is not https.", "Put a web server that speaks https in front of it.")
    if public.hostname not in settings.ALLOWED_HOSTS:
        yield wrong(f"{public.hostname} is not answered.", "Add it to SHOPWARRANTY_HOSTS.")
    elif not getattr(settings, "SECURE_SSL_REDIRECT", False):
        yield look("Cookies also travel without https.", "Set SHOPWARRANTY_HTTPS=true once https works.")
    else:
        yield fine(f"Customers reach {settings.PUBLIC_URL}.")


def database(now: datetime) -> Iterator[Seen]:
    executor = MigrationExecutor(connection)
    waiting = executor.migration_plan(executor.loader.graph.leaf_nodes())
    if waiting:
        yield wrong(
            f"{len(waiting)} changes of the database wait.", "python3 manage.py quickstart --no-serve"
        )
    else:
        yield fine(f"The {connection.vendor} database is up to date.")


def guards(now: datetime) -> Iterator[Seen]:
    """Without its triggers a database no longer keeps shops apart and promises frozen."""
    missing = {each.name for each in triggers.wanted()} - {name for name, _table in triggers.there("default")}
    if missing:
        words = f"{len(missing)} of the database's guards are missing."
        yield wrong(words, "python3 manage.py migrate puts them back.")
    elif connection.vendor == "postgresql" and not settings.ROW_SECURITY:
        remedy = "Unless a pooler needs it so: take SHOPWARRANTY_ROW_SECURITY away, then manage.py migrate."
        yield look("Row security is off.", remedy)
    elif connection.vendor == "postgresql" and row_security.is_passed_by():
        yield wrong(
            "The database role is a superuser or passes row security: the second lock binds it not.",
            "Give DATABASE_URL a role made with NOSUPERUSER NOBYPASSRLS that owns the tables.",
        )
    elif missing_locks():
        yield wrong("Some tables have no row security.", "python3 manage.py migrate puts it back.")
    else:
        yield fine("The database guards every shop's rows.")


def missing_locks() -> set[str]:
    if connection.vendor != "postgresql":
        return set()
    return set(row_security.tables("default")) - row_security.locked("default")


def files(now: datetime) -> Iterator[Seen]:
    name = f"probe-{now:%Y%m%d%H%M%S}"
    in_s3 = settings.S3_STORE["bucket_name"]
    try:
        name = default_storage.save(name, ContentFile(b"probe"))
        with default_storage.open(name) as file:
            same = file.read() == b"probe"
        is_public = bool(in_s3) and default_storage.strangers_may_read(name)  # type: ignore[attr-defined]
        default_storage.delete(name)
    except OSError as error:
        disk = f"Make {settings.MEDIA_ROOT} writable for the service."
        yield wrong(f"Files cannot be kept: {error.strerror}.", IN_S3 if in_s3 else disk)
        return
    yield fine("Files can be kept.") if same else wrong("Files come back changed.", "Look at the storage.")
    if is_public:
        yield wrong(f"Anybody may read the bucket {in_s3}.", "Close it: only the keys of this service read.")
    if in_s3 and not is_private_way(settings.S3_STORE["endpoint_url"] or "https:"):
        yield look("Files travel to the store without encryption.", "Give SHOPWARRANTY_S3_ENDPOINT as https.")


def is_private_way(address: str) -> bool:
    """Encrypted, or within this machine."""
    parts = urlsplit(address)
    return parts.scheme in ("https", "rediss") or parts.hostname in ("localhost", "127.0.0.1", "::1")


def queue(now: datetime) -> Iterator[Seen]:
    """Only where it is a server of its own."""
    if not settings.QUEUE_URL:
        return
    from redis import Redis, RedisError

    try:
        Redis.from_url(settings.QUEUE_URL, socket_timeout=5, socket_connect_timeout=5).ping()
    except (RedisError, ValueError, OSError) as error:
        yield wrong(
            f"The queue does not answer: {error}.", "Look at SHOPWARRANTY_QUEUE_URL and the Redis server."
        )
        return
    if is_private_way(settings.QUEUE_URL):
        yield fine("The queue answers.")
    else:
        yield look("The queue is spoken to without encryption.", "Give SHOPWARRANTY_QUEUE_URL as rediss.")


def space(now: datetime) -> Iterator[Seen]:
    folders = dict.fromkeys(Path(each) for each in (settings.DATA_DIR, settings.MEDIA_ROOT))
    for folder in (each for each in folders if each.exists()):
        free = shutil.disk_usage(folder).free
        if free < ENOUGH_SPACE:
            yield wrong(
                f"{free // 1_000_000} MB are left for {folder}.", "Make room: photos are not taken when full."
            )
        else:
            yield fine(f"{free // 1_000_000_000} GB are left for {folder}.")


def static_files(now: datetime) -> Iterator[Seen]:
    if settings.DEBUG or (Path(settings.STATIC_ROOT) / "staticfiles.json").exists():
        yield fine("Page furniture is in place.")
    else:
        yield wrong(
            "Style sheets and scripts are not in place.", "python3 manage.py collectstatic --no-input"
        )


def mail_settings(now: datetime) -> Iterator[Seen]:
    if not settings.EMAIL_BACKEND.endswith("smtp.EmailBackend"):
        yield look(
            f"Mails are files under {settings.EMAIL_FILE_PATH}.", "Set SHOPWARRANTY_MAIL_URL to send them."
        )
    elif settings.DEFAULT_FROM_EMAIL.endswith(".example"):
        yield wrong(f"Mails come from {settings.DEFAULT_FROM_EMAIL}.", "Set SHOPWARRANTY_MAIL_FROM.")
    else:
        yield fine(f"Mails come from {settings.DEFAULT_FROM_EMAIL}.")


def mail_server(now: datetime) -> Iterator[Seen]:
    """Signs in and sends nothing."""
    if not settings.EMAIL_BACKEND.endswith("smtp.EmailBackend"):
        return
    try:
        server = get_connection(timeout=10)
        server.open()
        server.close()
    except OSError as error:  # smtplib's errors are OSErrors
        yield wrong(f"The mail server does not take us: {error}.", "Look at SHOPWARRANTY_MAIL_URL.")
        return
    yield fine("The mail server takes us.")


def worker(now: datetime) -> Iterator[Seen]:
    if not Schedule.objects.exists():
        yield wrong("Nothing wakes the worker.", "python3 manage.py migrate puts the schedule back.")
    beat = Heartbeat.objects.filter(name="tick").first()
    if beat is None or now - beat.at > FRESH:
        since = f"since {beat.at:%Y-%m-%d %H:%M} UTC" if beat else "and never has been"
        yield wrong(
            f"The worker is not heard, {since}.", "Start it: manage.py serve, or manage.py tick every minute."
        )
    elif beat.note:
        yield look(f"The worker's last pass was not whole: {beat.note}.", "Look at its log.")
    else:
        yield fine("The worker is alive.")


def clock(now: datetime) -> Iterator[Seen]:
    """Certificates carry days: a clock that was set back gives out yesterday's."""
    ahead = Heartbeat.objects.filter(at__gt=now + FRESH).order_by("-at").first()
    if ahead:
        yield wrong(
            f"Something was done at {ahead.at:%Y-%m-%d %H:%M} UTC, which is ahead.", "Set the clock right."
        )
    else:
        yield fine(f"The clock says {now:%Y-%m-%d %H:%M} UTC.")


def backups(now: datetime) -> Iterator[Seen]:
    if not settings.BACKUP_DIR:
        yield look(
            "No backups are made by themselves.", "Set SHOPWARRANTY_BACKUP_DIR to a folder on another disk."
        )
        return
    found = backups_in(Path(settings.BACKUP_DIR))
    if not found:
        yield wrong("There is no backup yet.", f"python3 manage.py backup --into {settings.BACKUP_DIR}")
        return
    age = now.timestamp() - found[-1].stat().st_mtime
    if age > BACKUP_AGE.total_seconds():
        yield wrong(f"The newest backup is {age / 86400:.0f} days old.", "Look at the worker's log.")
    else:
        yield fine(f"{len(found)} backups, the newest {found[-1].name}.")
