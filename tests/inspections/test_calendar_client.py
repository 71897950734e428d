"""Our calendars as an independent client reads them: khal, from Debian, which shares no code with ours.

The feed is read as a subscription is: every reading takes the place of the one before. Invitations come one
by one, as from a mail.
"""

import os
import shutil
import subprocess
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.utils import timezone

from shopwarranty.inspections import actions
from shopwarranty.inspections.models import Booking, Check
from shopwarranty.inspections.slots import slot_at
from shopwarranty.outbox.models import Message
from shopwarranty.shops import stored_bytes
from shopwarranty.shops.history import Actor
from tests import builders as b

CONFIG = """[calendars]
[[shop]]
path = {folder}/items
type = calendar
[locale]
timeformat = %H:%M
dateformat = %Y-%m-%d
longdateformat = %Y-%m-%d
datetimeformat = %Y-%m-%d %H:%M
longdatetimeformat = %Y-%m-%d %H:%M
default_timezone = {zone}
local_timezone = {zone}
[sqlite]
path = {folder}/khal.db
"""
SHOWN = "{start-date} {start-time}-{end-time}|{title}|{uid}|{status}"


@dataclass(frozen=True, slots=True)
class Client:
    """khal with a calendar of its own, read by somebody in `zone`."""

    folder: Path
    zone: str

    def run(self, *argv: str) -> str:
        config = self.folder / "config"
        config.write_text(CONFIG.format(folder=self.folder, zone=self.zone))
        (self.folder / "items").mkdir(exist_ok=True)
        env = {"HOME": str(self.folder), "PATH": os.environ["PATH"], "LANG": "C.UTF-8", "TZ": self.zone}
        done = subprocess.run(
            ["khal", "-c", str(config), *argv], env=env, check=False, capture_output=True, text=True
        )
        assert done.returncode == 0, done.stderr
        return done.stdout

    def receive(self, content: bytes) -> None:
        """As an attachment that somebody opens: an entry with the same UID is brought up to date."""
        file = self.folder / "received.ics"
        file.write_bytes(content)
        self.run("import", "--batch", "-a", "shop", str(file))

    def refresh(self, content: bytes) -> None:
        """As a subscription: what was there before is forgotten."""
        for item in (self.folder / "items").glob("*"):
            item.unlink()
        (self.folder / "khal.db").unlink(missing_ok=True)
        if b"BEGIN:VEVENT" in content:
            self.receive(content)

    def shown(self) -> list[list[str]]:
        printed = self.run("list", "-a", "shop", "--once", "-df", "", "-f", SHOWN, "2026-11-01", "120d")
        return [line.split("|") for line in printed.splitlines() if "|" in line]


@pytest.fixture
def khal(tmp_path: Path) -> Client:
    if not shutil.which("khal"):
        if os.environ.get("CI"):
            pytest.fail("khal is not installed: python3 manage.py test --setup-only installs it")
        pytest.skip("khal is not installed: python3 manage.py test --setup-only")
    return Client(tmp_path, "America/New_York")


@pytest.fixture
def now(monkeypatch: pytest.MonkeyPatch) -> datetime:
    monkeypatch.setattr(timezone, "now", lambda: b.NOW)
    return b.NOW


def slot(check: Check, day: date, hour: int) -> Any:
    starts = datetime(day.year, day.month, day.day, hour)  # noqa: DTZ001 a wall time of the shop
    return slot_at(starts, zone=check.shop.time_zone, minutes=check.plan.minutes, lane=1)


def last_file(booking: Booking) -> bytes:
    message = Message.objects.filter(about__contains=booking.uid.hex).order_by("-pk")[0]
    (file,) = (each for each in message.attachments if each["name"].endswith(".ics"))
    return stored_bytes.read(file["sha256"])


def when(shown: list[str]) -> str:
    return shown[0]


def test_booked_moved_and_called_off_in_the_holders_calendar(ours: Any, now: datetime, khal: Client) -> None:
    """RFC 5546 sections 3.2.2 and 3.2.5, by mail: one entry all along, moved, then cancelled."""
    check, actor = b.a_check(due_on=b.TODAY + timedelta(days=2)), Actor.of(ours.desk)
    day = b.TODAY + timedelta(days=2)
    first = actions.book_check(check=check, slot=slot(check, day, 10), actor=actor, now=b.NOW)
    khal.receive(last_file(first))
    ((shown, title, uid, status),) = khal.shown()
    assert (shown, uid) == ("2026-11-27 10:00-10:45", str(first.uid))
    assert check.plan.name in title
    assert "CANCEL" not in status.upper()
    after = b.NOW + timedelta(hours=1)
    moved = actions.move_booking(
        booking=first, slot=slot(check, day + timedelta(days=3), 14), actor=actor, now=after
    )
    khal.receive(last_file(moved))
    ((shown, _title, same, _status),) = khal.shown()
    assert (shown, same) == ("2026-11-30 14:00-14:45", str(first.uid))
    # a cancellation of what nobody has heard of yet is not sent: both mails have gone out
    Message.objects.update(state=Message.State.SENT, settled_at=after)
    actions.cancel_booking(booking=moved, by_holder=True, actor=actor, now=after + timedelta(hours=1))
    khal.receive(last_file(moved))
    left = khal.shown()
    assert [entry[3].strip().upper() for entry in left] in ([], ["CANCELLED"])


def test_moved_and_called_off_in_the_shops_feed(
    ours: Any, now: datetime, khal: Client, tmp_path: Path
) -> None:
    actor = Actor.of(ours.desk)
    stays, moves, goes = (b.a_check(due_on=b.TODAY + timedelta(days=2)) for _ in range(3))
    day = b.TODAY + timedelta(days=2)
    booked = [
        actions.book_check(check=check, slot=slot(check, day, hour), actor=actor, now=b.NOW)
        for check, hour in ((stays, 9), (moves, 11), (goes, 13))
    ]
    khal.refresh(written(tmp_path))
    assert sorted(when(entry)[:16] for entry in khal.shown()) == [
        "2026-11-27 09:00",
        "2026-11-27 11:00",
        "2026-11-27 13:00",
    ]
    actions.move_booking(
        booking=booked[1], slot=slot(moves, day + timedelta(days=3), 15), actor=actor, now=b.NOW
    )
    actions.cancel_booking(booking=booked[2], by_holder=True, actor=actor, now=b.NOW)
    khal.refresh(written(tmp_path))
    shown = {entry[2]: when(entry)[:16] for entry in khal.shown()}
    assert shown == {str(booked[0].uid): "2026-11-27 09:00", str(booked[1].uid): "2026-11-30 15:00"}


def written(folder: Path) -> bytes:
    out = folder / "feed.ics"
    call_command("calendar_feed", shop="kiln", out=out)
    return out.read_bytes()


@pytest.mark.parametrize(
    ("zone", "expected"),
    [  # 10:00 in New York on 27 November 2026 is 15:00 UTC: tz database, America/New_York is UTC-5 then
        ("America/New_York", "2026-11-27 10:00"),
        ("Europe/Berlin", "2026-11-27 16:00"),
        ("Australia/Sydney", "2026-11-28 02:00"),
    ],
)
def test_e65_whoever_reads_it_elsewhere_sees_the_same_moment(
    ours: Any, now: datetime, khal: Client, tmp_path: Path, zone: str, expected: str
) -> None:
    check = b.a_check(due_on=b.TODAY + timedelta(days=2))
    actions.book_check(
        check=check, slot=slot(check, b.TODAY + timedelta(days=2), 10), actor=Actor.of(ours.desk), now=b.NOW
    )
    abroad = Client(khal.folder, zone)
    abroad.refresh(written(tmp_path))
    assert [when(entry)[:16] for entry in abroad.shown()] == [expected]


def test_same_wall_time_on_both_sides_of_the_clock_change(
    ours: Any, now: datetime, khal: Client, tmp_path: Path
) -> None:
    """New York goes forward on 14 March 2027 (15 USC 260a): 10:00 stays 10:00, is 15:00 then 14:00 UTC."""
    ours.shop.ahead_days = 200
    ours.shop.save()
    for day in (date(2027, 3, 12), date(2027, 3, 15)):
        check = b.a_check(due_on=day)
        actions.book_check(check=check, slot=slot(check, day, 10), actor=Actor.of(ours.desk), now=b.NOW)
    for zone, hours in (("America/New_York", ["10:00", "10:00"]), ("UTC", ["15:00", "14:00"])):
        reader = Client(khal.folder, zone)
        reader.refresh(written(tmp_path))
        printed = reader.run("list", "-a", "shop", "-df", "", "-f", SHOWN, "2027-03-10", "10d")
        assert [line[11:16] for line in printed.splitlines() if "|" in line] == hours
