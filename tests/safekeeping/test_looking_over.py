"""Each thing an operator can get wrong is broken once, and the look at it says so with a remedy."""

import os
import time
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django_q.models import Schedule

from shopwarranty.outbox.models import Heartbeat
from shopwarranty.safekeeping import looking_over, nightly
from shopwarranty.safekeeping.looking_over import Look, Mark
from tests.conftest import NOW

pytestmark = pytest.mark.django_db
Break = Callable[[Any, Path, pytest.MonkeyPatch], Any]


@pytest.fixture
def in_order(settings: Any, tmp_path: Path) -> Path:
    """An installation in which nothing is wrong."""
    settings.DATA_DIR = settings.MEDIA_ROOT = settings.STATIC_ROOT = tmp_path
    settings.BACKUP_DIR = str(tmp_path / "backups")
    settings.SECRET_KEY = "".join(chr(33 + n) for n in range(60))
    settings.PUBLIC_URL = "https://warranty.shop.example"
    settings.ALLOWED_HOSTS = ["warranty.shop.example"]
    settings.SECURE_SSL_REDIRECT = True
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.DEFAULT_FROM_EMAIL = "desk@a-shop.test"
    (tmp_path / "staticfiles.json").write_text("{}")
    (tmp_path / "secret_key").write_text("x")
    tmp_path.chmod(0o700)
    (tmp_path / "backups").mkdir()
    backup = tmp_path / "backups" / "shopwarranty-2026-11-25-010000.backup"
    backup.write_bytes(b"x")
    os.utime(backup, (NOW.timestamp(), NOW.timestamp()))
    Heartbeat.objects.create(name="tick", at=NOW)
    return tmp_path


def marks(one: Look) -> set[Mark]:
    found = list(one(NOW))
    assert all(seen.remedy for seen in found if seen.mark is not Mark.FINE)
    return {seen.mark for seen in found}


def test_an_installation_in_order_has_nothing_to_put_right(in_order: Path) -> None:
    for one in looking_over.looks(network=False):
        assert marks(one) == {Mark.FINE}, one.__name__


def no_guards(settings: Any, folder: Path, patch: pytest.MonkeyPatch) -> None:
    with connection.cursor() as cursor:
        on = "" if connection.vendor == "sqlite" else " ON jobs_job"
        cursor.execute(f'DROP TRIGGER "jobs_job_shop_stays"{on}')


def old_backup(settings: Any, folder: Path, patch: pytest.MonkeyPatch) -> None:
    for path in (folder / "backups").iterdir():
        os.utime(path, (NOW.timestamp() - 3 * 86400,) * 2)


def open_to_all(settings: Any, folder: Path, patch: pytest.MonkeyPatch) -> None:
    folder.chmod(0o755)
    (folder / "secret_key").chmod(0o644)


def no_backup(settings: Any, folder: Path, patch: pytest.MonkeyPatch) -> None:
    for path in (folder / "backups").iterdir():
        path.unlink()


def set_to(**values: Any) -> Break:
    def act(settings: Any, folder: Path, patch: pytest.MonkeyPatch) -> None:
        for name, value in values.items():
            setattr(settings, name, value)

    return act


BROKEN: list[tuple[Look, Break, Mark]] = [
    (looking_over.secrets, set_to(DEBUG=True), Mark.WRONG),
    (looking_over.secrets, set_to(SECRET_KEY="short"), Mark.WRONG),
    (looking_over.secrets, set_to(SECRET_KEY="ab" * 40), Mark.WRONG),
    (looking_over.secrets, open_to_all, Mark.WRONG),
    (looking_over.addresses, set_to(PUBLIC_URL=""), Mark.LOOK),
    (looking_over.addresses, set_to(PUBLIC_URL="http://warranty.shop.example"), Mark.WRONG),
    (looking_over.addresses, set_to(ALLOWED_HOSTS=["localhost"]), Mark.WRONG),
    (looking_over.addresses, set_to(SECURE_SSL_REDIRECT=False), Mark.LOOK),
    (
        looking_over.database,
        lambda s, f, patch: patch.setattr(
            "shopwarranty.safekeeping.looking_over.MigrationExecutor.migration_plan", lambda *_: ["later"]
        ),
        Mark.WRONG,
    ),
    (looking_over.guards, no_guards, Mark.WRONG),
    (looking_over.files, set_to(MEDIA_ROOT="/proc/nowhere"), Mark.WRONG),
    (looking_over.space, lambda s, f, patch: patch.setattr(looking_over, "ENOUGH_SPACE", 10**18), Mark.WRONG),
    (looking_over.static_files, lambda s, folder, p: (folder / "staticfiles.json").unlink(), Mark.WRONG),
    (
        looking_over.mail_settings,
        set_to(EMAIL_BACKEND="django.core.mail.backends.filebased.EmailBackend"),
        Mark.LOOK,
    ),
    (looking_over.mail_settings, set_to(DEFAULT_FROM_EMAIL="desk@shop.example"), Mark.WRONG),
    (looking_over.mail_server, set_to(EMAIL_HOST="127.0.0.1", EMAIL_PORT=1), Mark.WRONG),
    (looking_over.worker, lambda *_: Heartbeat.objects.all().delete(), Mark.WRONG),
    (looking_over.worker, lambda *_: Heartbeat.objects.update(at=NOW - timedelta(minutes=9)), Mark.WRONG),
    (looking_over.worker, lambda *_: Heartbeat.objects.update(note="failed: checks"), Mark.LOOK),
    (looking_over.worker, lambda *_: Schedule.objects.all().delete(), Mark.WRONG),
    (looking_over.clock, lambda *_: Heartbeat.objects.update(at=NOW + timedelta(hours=2)), Mark.WRONG),
    (looking_over.backups, set_to(BACKUP_DIR=""), Mark.LOOK),
    (
        looking_over.backups,
        no_backup,
        Mark.WRONG,
    ),
    (looking_over.backups, old_backup, Mark.WRONG),
]


@pytest.mark.parametrize(("one", "broken", "mark"), BROKEN)
def test_what_is_wrong_is_said_with_a_remedy(
    one: Look, broken: Break, mark: Mark, in_order: Path, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    broken(settings, in_order, monkeypatch)
    assert mark in marks(one)


def test_the_command_ends_with_one_where_something_is_wrong(
    in_order: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)
    call_command("check_setup", "--no-network")
    Heartbeat.objects.all().delete()
    with pytest.raises(CommandError, match="1 to be put right") as ended:
        call_command("check_setup", "--no-network")
    assert ended.value.returncode == 1
    assert "-> Start it: manage.py serve" in capsys.readouterr().out


def test_a_backup_is_started_once_a_day(
    in_order: Path, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    started: list[Path] = []
    monkeypatch.setattr(nightly, "start", started.append)
    hours = [NOW + timedelta(hours=hour) for hour in range(49)]
    assert [nightly.start_when_due(hour) for hour in hours].count("started") == 3
    assert started == [in_order / "backups"] * 3


def test_without_a_folder_no_backup_is_started(db: None, settings: Any) -> None:
    settings.BACKUP_DIR = ""
    assert nightly.start_when_due(NOW) == "nothing due"
    assert not Heartbeat.objects.exists()


def test_what_is_started_keeps_a_log_of_its_own(settings: Any, tmp_path: Path) -> None:
    """Here the program finds no database, says so in the log, and leaves no half backup."""
    settings.BACKUP_KEEP, settings.BACKUP_PASS_PHRASE_FILE = 3, str(tmp_path / "missing")
    process = nightly.start(tmp_path / "backups")
    deadline = time.monotonic() + 60
    while process.poll() is None and time.monotonic() < deadline:
        time.sleep(0.1)
    assert process.returncode == 2
    assert "missing cannot be read" in (tmp_path / "backups" / "backup.log").read_text()
