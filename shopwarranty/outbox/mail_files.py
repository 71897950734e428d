"""Mails written into files because no mail server is set: so the demo shows what would have gone."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from email import message_from_bytes, policy
from pathlib import Path
from typing import Final

from django.conf import settings

NAME: Final = re.compile(r"^[A-Za-z0-9_-]+\.log$")
BETWEEN: Final = b"-" * 79 + b"\n"
MOST_FILES: Final = 400


@dataclass(frozen=True, slots=True)
class MailFile:
    """One mail of a file; a file holds what one pass sent."""

    name: str
    number: int
    subject: str
    to: str
    sent: str
    text: str
    html: str
    headers: tuple[tuple[str, str], ...]
    attachments: tuple[str, ...]


def kept_as_files() -> bool:
    return bool(settings.EMAIL_BACKEND == "django.core.mail.backends.filebased.EmailBackend")


def newest() -> Iterator[MailFile]:
    """Newest first."""
    folder = Path(settings.EMAIL_FILE_PATH)
    names = sorted((path.name for path in folder.glob("*.log")), reverse=True) if folder.is_dir() else []
    for name in names[:MOST_FILES]:
        yield from reversed(mails_in(name))


def mails_in(name: str) -> list[MailFile]:
    """The mails of one file; none for a name that is no file here."""
    path = Path(settings.EMAIL_FILE_PATH) / name
    if not NAME.match(name) or not path.is_file():
        return []
    parts = [part for part in path.read_bytes().split(BETWEEN) if part.strip()]
    return [_read(name, number, part) for number, part in enumerate(parts)]


def _read(name: str, number: int, content: bytes) -> MailFile:
    mail = message_from_bytes(content, policy=policy.default)
    plain, rich = mail.get_body(("plain",)), mail.get_body(("html",))
    return MailFile(
        name,
        number,
        str(mail["Subject"] or ""),
        str(mail["To"] or ""),
        str(mail["Date"] or ""),
        str(plain.get_content()) if plain else "",
        str(rich.get_content()) if rich else "",
        tuple((key, str(value)) for key, value in mail.items()),
        tuple(part.get_filename() or "" for part in mail.iter_attachments()),
    )
