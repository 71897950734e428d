"""A full disk, one that takes no writing, and memory that runs out: what was acknowledged stays, nothing is
half done, and the same act works once the fault is gone.
"""

import errno
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from django.core.files.storage import default_storage
from django.db import OperationalError, connection, transaction
from django.utils import timezone

from shopwarranty.desk import handover
from shopwarranty.inspections.models import BookedQuarter, Booking, Check
from shopwarranty.jobs.models import Job
from shopwarranty.outbox.delivery import deliver_due
from shopwarranty.outbox.models import Message
from shopwarranty.shops import stored_bytes
from shopwarranty.warranty import preparing
from shopwarranty.warranty.models import Certificate
from tests import builders as b
from tests.conftest import NOW, ShopPeople
from tests.warranty.conftest import Yard, make_yard
from tests.warranty.conftest import plain_pdf as plain_pdf

UNSEEN = {"no_look": "the owner waits, looked at from afar"}
OF_SQLITE = pytest.mark.skipif(connection.vendor != "sqlite", reason="a pragma of SQLite makes the fault")


@pytest.fixture
def yard(ours: ShopPeople) -> Yard:
    return make_yard(ours)


@contextmanager
def query_only() -> Iterator[None]:
    """As on a disk that is mounted read-only: SQLite answers "attempt to write a readonly database"."""
    connection.ensure_connection()
    connection.connection.execute("PRAGMA query_only = 1")
    try:
        yield
    finally:
        connection.connection.execute("PRAGMA query_only = 0")


def cut_short(after: int) -> Callable[..., str]:
    """A storage on a disk that is full after so many bytes: what was written so far stays behind."""

    def save(name: str, content: Any, max_length: int | None = None) -> str:
        path = Path(default_storage.path(name))
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content.read()[:after])
        raise OSError(errno.ENOSPC, "No space left on device")

    return save


def nothing_was_handed_over(job: Job) -> bool:
    job.refresh_from_db()
    rows = Certificate.objects.exists() or Check.objects.exists() or Message.objects.exists()
    return job.state == Job.State.OPEN and not rows


# --- a full disk


def test_what_a_full_disk_cut_short_is_written_anew_and_never_taken_for_whole(
    ours: ShopPeople, monkeypatch: pytest.MonkeyPatch
) -> None:
    content = b"bytes of a photo that are longer than the room left"
    with monkeypatch.context() as full:
        full.setattr(default_storage, "save", cut_short(10))
        with pytest.raises(OSError, match="No space left"):
            stored_bytes.keep(content)
    kept = stored_bytes.keep(content)
    assert stored_bytes.read(kept.sha256) == content


def test_a_disk_full_of_certificates_hands_nothing_over_and_the_next_try_does(
    yard: Yard, plain_pdf: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = yard.job()
    with monkeypatch.context() as full:
        full.setattr(default_storage, "save", cut_short(100))
        with pytest.raises(OSError, match="No space left"):
            handover.hand_over(job=job, actor=yard.actor, now=NOW, reasons=UNSEEN)
    assert nothing_was_handed_over(job)
    done = handover.hand_over(job=job, actor=yard.actor, now=NOW, reasons=UNSEEN)
    assert done.certificate is not None
    assert stored_bytes.read(done.certificate.pdf_sha256)


# --- a disk that takes no writing


@OF_SQLITE
def test_on_a_disk_that_takes_no_writing_nothing_is_booked_and_afterwards_it_is(
    ours: ShopPeople, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(timezone, "now", lambda: NOW)
    check = b.a_check()
    client = ours.client(ours.desk)
    client.raise_request_exception = False
    path = f"/s/kiln/checks/{check.pk}/book/"
    slot = slot_in(client.get(path))
    with query_only():
        assert client.post(path, {"slot": slot}).status_code == 500
    assert not Booking.objects.exists()
    assert not BookedQuarter.objects.exists()
    client.post(path, {"slot": slot})
    assert Booking.objects.get().state == Booking.State.BOOKED


def slot_in(answer: Any) -> str:
    return str(answer.content.decode().split('name="slot" value="')[1].split('"')[0])


@OF_SQLITE
def test_on_a_disk_that_takes_no_writing_no_message_leaves_that_could_not_be_noted(ours: ShopPeople) -> None:
    """It is claimed before anybody outside is spoken to: where that cannot be written, nothing is sent."""
    from tests.faults.test_outbox_faults import only, put

    put()
    with query_only(), pytest.raises(OperationalError, match="readonly"), transaction.atomic():
        deliver_due(NOW)
    assert (only().state, only().attempts) == ("waiting", 0)
    assert deliver_due(NOW).sent == 1


# --- memory


def test_memory_that_runs_out_in_a_pdf_hands_nothing_over_and_the_next_try_does(
    yard: Yard, plain_pdf: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = yard.job()

    def too_much(*args: Any, **more: Any) -> bytes:
        raise MemoryError

    with monkeypatch.context() as short:
        short.setattr(preparing, "render", too_much)
        with pytest.raises(MemoryError):
            handover.hand_over(job=job, actor=yard.actor, now=NOW, reasons=UNSEEN)
    assert nothing_was_handed_over(job)
    assert handover.hand_over(job=job, actor=yard.actor, now=NOW, reasons=UNSEEN).certificate is not None
