"""Backups by themselves: once a day the worker starts one, in a program of its own.

A pass of the worker has two minutes; a backup of many photos takes longer.
"""

import subprocess
import sys
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from django.conf import settings
from django.db import transaction

from shopwarranty.outbox.models import Heartbeat

BEAT: Final = "backup"
A_DAY: Final = timedelta(days=1)


def start_when_due(now: datetime) -> str:
    """What the tick calls. Several workers start one backup, because one of them moves the heartbeat."""
    if not settings.BACKUP_DIR or not taken(now):
        return "nothing due"
    start(Path(settings.BACKUP_DIR))
    return "started"


@transaction.atomic
def taken(now: datetime) -> bool:
    Heartbeat.objects.get_or_create(name=BEAT, defaults={"at": now - A_DAY})
    return bool(Heartbeat.objects.filter(name=BEAT, at__lte=now - A_DAY).update(at=now))


def start(folder: Path) -> "subprocess.Popen[bytes]":
    command = ["backup", "--into", str(folder), "--keep", str(settings.BACKUP_KEEP)]
    if settings.BACKUP_PASS_PHRASE_FILE:
        command += ["--pass-phrase-file", settings.BACKUP_PASS_PHRASE_FILE, "--with-keys"]
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    with (folder / "backup.log").open("wb") as log:
        return subprocess.Popen(  # noqa: S603 - our own program
            [sys.executable, "-m", "django", *command],
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=subprocess.STDOUT,
            start_new_session=True,
        )
