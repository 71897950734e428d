"""Photos and papers in a store that speaks S3: kept, read back, served as ours, and what is wrong is said.

The server is moto's, which answers as Amazon's S3 does (its API reference, "PutObject", "GetObject").
"""

import hashlib
import os
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.urls import reverse

from shopwarranty.claims.models import Claim
from shopwarranty.desk import handover
from shopwarranty.desk.flat import pending
from shopwarranty.jobs.models import Photo
from shopwarranty.outbox.models import Message
from shopwarranty.safekeeping import looking_over
from shopwarranty.safekeeping.looking_over import Mark
from shopwarranty.shops import stored_bytes
from shopwarranty.shops.stored_bytes import DamagedFile, path_of
from shopwarranty.warranty.models import Certificate
from tests.conftest import NOW, ShopPeople
from tests.jobs.test_photos import sent
from tests.throwaway_stores import BUCKET, FOLDER, S3Server, s3_server
from tests.warranty.conftest import Yard, make_yard

pytestmark = [pytest.mark.django_db, pytest.mark.xdist_group("s3")]
IN_S3 = "shopwarranty.shops.s3_store.S3Store"


@pytest.fixture(scope="module")
def server() -> Iterator[S3Server]:
    with s3_server() as running:
        yield running


@pytest.fixture
def store(server: S3Server, settings: Any) -> Iterator[S3Server]:
    """Chosen as the settings choose it; emptied afterwards."""
    choose(settings, server.options)
    yield server
    client = server.client()
    for name in server.objects():
        client.delete_object(Bucket=BUCKET, Key=name)


def choose(settings: Any, options: dict[str, str]) -> None:
    settings.S3_STORE = options
    settings.STORAGES = {**settings.STORAGES, "default": {"BACKEND": IN_S3, "OPTIONS": options}}


@pytest.fixture
def yard(ours: ShopPeople) -> Yard:
    return make_yard(ours)


def under(content: bytes) -> str:
    return f"{FOLDER}/{path_of(hashlib.sha256(content).hexdigest())}"


def test_a_photo_is_kept_in_the_store_and_served_with_our_type(
    store: S3Server, yard: Yard, settings: Any
) -> None:
    client = yard.people.client(yard.people.installer)
    job = yard.job()
    client.post(reverse("job-photos", args=["kiln", job.pk]), {"photos": [sent()]})
    photo = Photo.objects.get()
    answer = client.get(reverse("photo", args=["kiln", photo.pk, "full"]))
    assert store.objects()[under(answer.content)] == answer.content
    assert answer["Content-Type"] == "image/jpeg"
    assert hashlib.sha256(answer.content).hexdigest() == photo.sha256
    assert not Path(settings.MEDIA_ROOT).exists()


def test_a_certificates_paper_is_kept_read_and_proved(
    store: S3Server, yard: Yard, capsys: pytest.CaptureFixture[str]
) -> None:
    certificate = yard.issue()
    answer = yard.people.client(yard.people.owner).get(
        reverse("certificate-pdf", args=["kiln", certificate.pk])
    )
    assert answer["Content-Type"] == "application/pdf"
    assert store.objects()[under(answer.content)] == answer.content
    assert answer.content.startswith(b"%PDF")
    call_command("verify_certificates")
    assert "1 certificates checked, 0 do not agree." in capsys.readouterr().out


def test_the_same_bytes_are_kept_once(store: S3Server) -> None:
    assert stored_bytes.keep(b"the same") == stored_bytes.keep(b"the same")
    assert store.objects() == {under(b"the same"): b"the same"}
    assert list(stored_bytes.all_names()) == [path_of(hashlib.sha256(b"the same").hexdigest())]


def test_what_is_missing_or_changed_is_said_and_not_served(store: S3Server, yard: Yard) -> None:
    kept = stored_bytes.keep(b"as it was")
    store.client().put_object(Bucket=BUCKET, Key=under(b"as it was"), Body=b"as it is")
    with pytest.raises(DamagedFile, match="changed outside the program"):
        stored_bytes.read(kept.sha256)
    store.client().delete_object(Bucket=BUCKET, Key=under(b"as it was"))
    with pytest.raises(DamagedFile, match="is missing"):
        stored_bytes.read(kept.sha256)


@pytest.mark.breaks("a_certificates_paper_lies_under_its_hash")
def test_a_missing_paper_leads_to_a_page_that_says_so(store: S3Server, yard: Yard) -> None:
    certificate = yard.issue()
    store.client().delete_object(Bucket=BUCKET, Key=f"{FOLDER}/{path_of(certificate.pdf_sha256)}")
    owner = yard.people.client(yard.people.owner)
    page = owner.get(reverse("certificate-pdf", args=["kiln", certificate.pk]), follow=True)
    assert "The stored file is damaged or gone" in page.content.decode()


def test_a_store_that_is_away_hands_nothing_over_and_the_next_try_does(
    store: S3Server, yard: Yard, settings: Any
) -> None:
    """Port 1 of this machine: nobody listens there."""
    job, unseen = yard.job(), {"no_look": "the owner waits, looked at from afar"}
    choose(settings, {**store.options, "endpoint_url": "http://127.0.0.1:1"})
    with pytest.raises(OSError, match=f"The store of files {BUCKET} at http://127.0.0.1:1"):
        handover.hand_over(job=job, actor=yard.actor, now=NOW, reasons=unseen)
    assert not Certificate.objects.exists() and not Message.objects.exists() and not Claim.objects.exists()
    choose(settings, store.options)
    done = handover.hand_over(job=job, actor=yard.actor, now=NOW, reasons=unseen)
    assert done.certificate is not None
    assert stored_bytes.read(done.certificate.pdf_sha256).startswith(b"%PDF")


def test_files_that_wait_to_be_taken_in_come_back_and_are_swept(store: S3Server, ours: ShopPeople) -> None:
    waits = pending.keep(ours.shop, SimpleUploadedFile("jobs.csv", b"a,b\r\n1,2\r\n"), None)
    with pending.on_disk(ours.shop, waits) as files:
        assert files.jobs.read_bytes() == b"a,b\r\n1,2\r\n"
    now = datetime.now(UTC)
    assert (pending.sweep(now), pending.sweep(now + timedelta(days=2))) == (0, 1)
    with pytest.raises(pending.NothingPending), pending.on_disk(ours.shop, waits):
        pass


def test_a_store_in_order_is_said_to_be(store: S3Server) -> None:
    assert [seen.mark for seen in looking_over.files(NOW)] == [Mark.FINE]
    assert store.objects() == {}


@pytest.mark.parametrize(
    ("wrong", "said"),
    [({"bucket_name": "nobodys"}, "NoSuchBucket"), ({"endpoint_url": "http://127.0.0.1:1"}, "connect")],
)
def test_a_store_that_takes_nothing_is_said_with_a_remedy(
    store: S3Server, settings: Any, wrong: dict[str, str], said: str
) -> None:
    choose(settings, {**store.options, **wrong})
    (seen,) = looking_over.files(NOW)
    assert (seen.mark, said in seen.what) == (Mark.WRONG, True)
    assert "SHOPWARRANTY_S3_" in seen.remedy


def test_a_bucket_that_anybody_may_read_is_said_to_be_open(
    store: S3Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(f"{IN_S3}.get_object_parameters", lambda store, name: {"ACL": "public-read"})
    (_kept, seen) = looking_over.files(NOW)
    assert (seen.mark, seen.what) == (Mark.WRONG, f"Anybody may read the bucket {BUCKET}.")


def test_a_store_over_the_net_without_https_is_looked_at(store: S3Server, settings: Any) -> None:
    settings.S3_STORE = {**store.options, "endpoint_url": "http://store.example:9000"}
    assert [seen.mark for seen in looking_over.files(NOW)] == [Mark.FINE, Mark.LOOK]


def test_a_folder_or_key_without_a_bucket_stops_the_start() -> None:
    done = subprocess.run(
        [sys.executable, "-c", "import shopwarranty.settings"],
        env={**os.environ, "SHOPWARRANTY_S3_REGION": "eu-central-1"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1
    assert "S3_... is set without SHOPWARRANTY_S3_BUCKET" in done.stderr
