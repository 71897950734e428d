"""Photos of a job: several at once, kept once, served as pictures to their own shop, moved with history."""

import io
from typing import Any
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import DatabaseError, transaction
from django.test import Client
from django.urls import reverse
from PIL import Image

from shopwarranty.jobs.models import Job, Photo
from shopwarranty.jobs.photos import Subject, add_photo, move_photo
from shopwarranty.jobs.record import load_record
from shopwarranty.shops.models import Change
from tests.conftest import NOW, World

from .conftest import Bench


def url(name: str, *args: Any) -> str:
    return reverse(name, args=["kiln", *args])


def sent(name: str = "edge.jpg", colour: str = "grey") -> SimpleUploadedFile:
    out = io.BytesIO()
    Image.new("RGB", (80, 60), colour).save(out, "JPEG")
    return SimpleUploadedFile(name, out.getvalue(), content_type="image/jpeg")


@pytest.fixture
def job(bench: Bench) -> Job:
    return bench.front(("bonnet", "roof"))


@pytest.fixture
def client(bench: Bench) -> Client:
    return bench.people.client(bench.people.installer)


def test_several_photos_come_in_one_go_and_a_bad_one_is_named(client: Client, job: Job) -> None:
    bad = SimpleUploadedFile("notes.pdf", b"%PDF-1.7 not a picture", content_type="image/jpeg")
    form = {"photos": [sent(), sent("two.jpg", "red"), bad], "stage": "intake"}
    answer = client.post(url("job-photos", job.pk), form, follow=True)
    page = answer.content.decode()
    assert Photo.objects.filter(job=job, stage="intake").count() == 2
    assert "notes.pdf is not a photo we can keep. Send JPEG, PNG, WebP or HEIC." in page


def test_a_photo_belongs_to_the_panel_it_was_sent_for(client: Client, job: Job) -> None:
    panel = job.panels.get(panel="roof")
    client.post(url("job-photos", job.pk), {"photos": [sent()], "panel": panel.pk})
    record = load_record(job)
    assert [len(one.photos) for one in record.panels] == [0, 1]
    chosen = client.get(url("job-photos", job.pk), {"panel": panel.pk}).content.decode()
    assert f'<option value="{panel.pk}" selected>Roof</option>' in chosen


def test_a_photo_is_served_as_a_picture_and_nothing_else(client: Client, job: Job) -> None:
    client.post(url("job-photos", job.pk), {"photos": [sent()]})
    photo = Photo.objects.get()
    for size in ("full", "small"):
        answer = client.get(url("photo", photo.pk, size))
        assert answer["Content-Type"] == "image/jpeg"
        assert answer["X-Content-Type-Options"] == "nosniff"
        assert answer["Cache-Control"].startswith("private")
    assert client.get(url("photo", photo.pk, "original")).status_code == 404


def test_another_shop_never_sees_the_photo(client: Client, job: Job, world: World) -> None:
    client.post(url("job-photos", job.pk), {"photos": [sent()]})
    stranger = world.theirs.client(world.theirs.owner)
    pk = Photo.objects.get().pk
    assert stranger.get(url("photo", pk, "full")).status_code == 404
    assert stranger.get(reverse("photo", args=["fennel", pk, "full"])).status_code == 404


def test_the_same_photo_sent_twice_by_a_phone_is_kept_once(bench: Bench, job: Job) -> None:
    uid, bytes_sent = uuid4(), sent().read()
    more: dict[str, Any] = {"subject": Subject.of_job(job), "stage": "work", "actor": bench.actor, "now": NOW}
    for _time in range(2):
        add_photo(sent=bytes_sent, uid=uid, **more)
    assert Photo.objects.count() == 1


def test_e84_a_photo_without_a_cameras_time_is_not_later_than_its_upload(bench: Bench, job: Job) -> None:
    photo = add_photo(
        sent=sent().read(), subject=Subject.of_job(job), stage="work", actor=bench.actor, now=NOW
    )
    assert (photo.taken_at, photo.taken_from, photo.added_at) == (None, "upload", NOW)


def test_e87_a_photo_on_the_wrong_panel_moves_and_the_history_says_where_it_was(
    bench: Bench, job: Job, client: Client
) -> None:
    bonnet, roof = job.panels.get(panel="bonnet"), job.panels.get(panel="roof")
    photo = add_photo(
        sent=sent().read(), subject=Subject.of_panel(bonnet), stage="work", actor=bench.actor, now=NOW
    )
    client.post(url("photo-move", photo.pk), {"panel": roof.pk})
    photo.refresh_from_db()
    change = Change.objects.get(act="photo moved")
    assert photo.panel_work == roof
    assert (change.before["panel_work"], change.after["panel_work"]) == (bonnet.pk, roof.pk)


def test_a_photo_does_not_move_to_another_jobs_panel(bench: Bench, job: Job, client: Client) -> None:
    other = bench.front(("bonnet",))
    photo = add_photo(
        sent=sent().read(), subject=Subject.of_job(job), stage="work", actor=bench.actor, now=NOW
    )
    assert client.post(url("photo-move", photo.pk), {"panel": other.panels.get().pk}).status_code == 404


def test_a_photo_set_aside_is_out_of_the_way_and_can_come_back(client: Client, job: Job) -> None:
    client.post(url("job-photos", job.pk), {"photos": [sent()]})
    photo = Photo.objects.get()
    for shown in (0, 1):
        client.post(url("photo-aside", photo.pk))
        assert len(load_record(job).photos) == shown


def test_the_bytes_of_a_photo_never_change(bench: Bench, job: Job) -> None:
    photo = add_photo(
        sent=sent().read(), subject=Subject.of_job(job), stage="work", actor=bench.actor, now=NOW
    )
    with pytest.raises(DatabaseError), transaction.atomic():
        Photo.objects.filter(pk=photo.pk).update(sha256="0" * 64)
    move_photo(photo=photo, panel_work=None, place=None, actor=bench.actor, now=NOW)
