"""Photos of a job: several at once, kept once, served as pictures to their own shop, moved with history."""

import io
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import DatabaseError, transaction
from django.test import Client
from django.urls import reverse
from PIL import Image

from shopwarranty.jobs.models import Job, Photo, Place
from shopwarranty.jobs.photo_marks import Mark, marked
from shopwarranty.jobs.photos import Subject, Told, add_photo, make_thumbnails, move_photo
from shopwarranty.jobs.record import load_record
from shopwarranty.outbox import tick
from shopwarranty.shops import stored_bytes
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


def kept(bench: Bench, job: Job, **more: Any) -> Photo:
    values: dict[str, Any] = {"sent": sent().read(), "subject": Subject.of_job(job), "stage": "work"}
    return add_photo(**{**values, **more}, actor=bench.actor, now=NOW)


def test_e84_where_the_camera_says_nothing_a_typed_time_counts_before_the_phones_file(
    bench: Bench, job: Job
) -> None:
    typed, by_phone = NOW - timedelta(hours=3), NOW - timedelta(hours=1)
    both = kept(bench, job, told=Told(typed, by_phone))
    phone = kept(bench, job, told=Told(None, by_phone))
    later = kept(bench, job, told=Told(None, NOW + timedelta(days=2)))
    assert (both.taken_at, both.taken_from) == (typed, "typed")
    assert (phone.taken_at, phone.taken_from) == (by_phone, "phone")
    assert (later.taken_at, later.taken_from) == (None, "upload")


def test_e84_a_wrong_camera_clock_is_put_right_and_the_history_keeps_what_it_said(
    client: Client, bench: Bench, job: Job
) -> None:
    photo = kept(bench, job, told=Told(None, NOW - timedelta(hours=1)))
    form = {"shows": "", "taken_at": "2026-11-25T08:15", "caption": "hood, front edge"}
    client.post(url("one-photo", photo.pk), form)
    photo.refresh_from_db()
    assert (photo.taken_at, photo.taken_from) == (datetime(2026, 11, 25, 13, 15, tzinfo=UTC), "typed")
    assert Change.objects.get(act="time of photo").before["taken_from"] == "phone"
    refused = client.post(url("one-photo", photo.pk), {**form, "taken_at": "2026-11-25T23:00"})
    assert "It was sent in before that." in refused.content.decode()


def test_a_photo_is_of_one_place_and_moves_to_another(
    client: Client, job: Job, place_of: Callable[[Job, str, str], Place]
) -> None:
    place, other = place_of(job, "bonnet", "leading"), place_of(job, "roof", "field")
    client.post(url("job-photos", job.pk), {"photos": [sent()], "panel": f"place-{place.pk}"})
    photo = Photo.objects.get()
    assert (photo.place, photo.panel_work.panel if photo.panel_work else "") == (place, "bonnet")
    client.post(url("one-photo", photo.pk), {"shows": f"place-{other.pk}", "caption": ""})
    photo.refresh_from_db()
    assert (photo.place, photo.panel_work.panel if photo.panel_work else "") == (other, "roof")
    wrong = client.post(url("job-photos", job.pk), {"photos": [sent()], "panel": "place-999999"})
    assert wrong.status_code == 404


def test_the_tick_makes_small_pictures_and_until_then_the_large_one_is_shown(
    client: Client, bench: Bench, job: Job
) -> None:
    photo, damaged = kept(bench, job), kept(bench, job, sent=sent(colour="red").read())
    waiting = client.get(url("photo", photo.pk, "small"))
    assert waiting["Cache-Control"] == "private, no-store"
    default_storage.delete(stored_bytes.path_of(damaged.sha256))
    assert make_thumbnails(NOW) == 1
    photo.refresh_from_db()
    assert client.get(url("photo", photo.pk, "small")).content == stored_bytes.read(photo.thumbnail_sha256)
    assert "thumbnails" in [step.name for step in tick.run(NOW)]


def test_a_phone_sends_one_photo_twice_with_its_id_and_gets_the_same_answer(client: Client, job: Job) -> None:
    uid = str(uuid4())
    for _time in range(2):
        form = {"photos": [sent()], "uid": uid, "phone_time": "1764079200000"}
        answer = client.post(url("job-photos", job.pk), form, headers={"accept": "application/json"})
        assert (answer.status_code, answer.json()["kept"]) == (200, 1)
    assert Photo.objects.count() == 1
    bad = SimpleUploadedFile("notes.pdf", b"%PDF-1.7")
    refused = client.post(
        url("job-photos", job.pk), {"photos": [bad]}, headers={"accept": "application/json"}
    )
    assert refused.status_code == 422
    assert "notes.pdf" in refused.json()["refused"][0]


def test_a_file_larger_than_allowed_is_refused_unread(client: Client, job: Job, settings: Any) -> None:
    settings.MAX_UPLOAD_BYTES = 100
    page = client.post(url("job-photos", job.pk), {"photos": [sent()]}, follow=True).content.decode()
    assert "Send a smaller copy." in page
    assert not Photo.objects.exists()


def mark(**more: Any) -> dict[str, Any]:
    points = {"x1": "10", "y1": "10", "x2": "60", "y2": "60"}
    return {"kind": "arrow", **points, "words": "", "act": "add", "marks": "[]", **more}


def test_marks_are_collected_one_by_one_and_drawn_on_a_copy(client: Client, bench: Bench, job: Job) -> None:
    photo = kept(bench, job)
    first = client.post(url("mark-photo", photo.pk), mark())
    second = client.post(
        url("mark-photo", photo.pk), mark(kind="ruler", words="14 mm", marks=first.context["marks_text"])
    )
    assert [one.kind for one in second.context["marks"]] == ["arrow", "ruler"]
    client.post(url("mark-photo", photo.pk), {"act": "keep", "marks": second.context["marks_text"]})
    copy = Photo.objects.get(marked_from=photo)
    assert [one["words"] for one in copy.marks] == ["", "14 mm"]
    assert copy.sha256 != photo.sha256
    photo.refresh_from_db()
    assert stored_bytes.read(photo.sha256)  # the one it was made from stays as it was
    assert (copy.taken_at, copy.place, copy.stage) == (photo.taken_at, photo.place, photo.stage)


@pytest.mark.parametrize(
    "wrong", [{"x1": "101"}, {"x2": "10", "y2": "10"}, {"kind": "stamp"}, {"y1": ""}, {"x1": "nan"}]
)
def test_a_mark_that_is_none_is_named_and_the_others_stay(
    wrong: dict[str, str], client: Client, bench: Bench, job: Job
) -> None:
    photo = kept(bench, job)
    first = client.post(url("mark-photo", photo.pk), mark()).context["marks_text"]
    answer = client.post(url("mark-photo", photo.pk), mark(marks=first, **wrong))
    assert answer.context["form"].errors
    assert answer.context["marks_text"] == first


def test_a_copy_without_marks_is_not_kept(client: Client, bench: Bench, job: Job) -> None:
    photo = kept(bench, job)
    for text in ("[]", "not json", '{"a": 1}', '[{"kind": "arrow"}]'):
        client.post(url("mark-photo", photo.pk), {"act": "keep", "marks": text})
    assert Photo.objects.count() == 1


def test_e85_what_was_blurred_cannot_be_read_from_the_copy() -> None:
    """A plate of 12 black and white stripes: after the blur none is left; outside nothing changed."""
    picture = Image.new("RGB", (240, 120), "white")
    for stripe in range(0, 240, 20):
        picture.paste((0, 0, 0), (stripe, 40, stripe + 10, 80))
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=95)
    content, _wide, _high = marked(out.getvalue(), [Mark("blur", 0, 0.3, 1, 0.7)])
    with Image.open(io.BytesIO(content)) as done:
        inside = [done.convert("L").getpixel((x, 60)) for x in range(5, 235, 10)]
        outside = [done.convert("L").getpixel((x, 10)) for x in range(5, 235, 10)]
    assert max(inside) - min(inside) < 40  # type: ignore[type-var, operator]
    assert min(outside) > 240  # type: ignore[type-var, operator]


def test_two_photos_of_one_place_stand_side_by_side_the_earlier_first(
    client: Client, bench: Bench, job: Job, place_of: Callable[[Job, str, str], Place]
) -> None:
    place = place_of(job, "bonnet", "leading")
    of_place = Subject.of_place(place)
    later = kept(bench, job, subject=of_place, told=Told(None, NOW - timedelta(hours=1)))
    earlier = kept(bench, job, subject=of_place, told=Told(None, NOW - timedelta(days=9)))
    kept(bench, job)
    answer = client.get(url("photo-beside", later.pk))
    assert answer.context["pair"] == [earlier, later]
    alone = Photo.objects.exclude(pk__in=[later.pk, earlier.pk]).get()
    assert "Only one photo of this place" in client.get(url("photo-beside", alone.pk)).content.decode()


def test_the_page_of_photos_asks_as_often_for_thirty_as_for_one(
    client: Client, bench: Bench, job: Job, django_assert_max_num_queries: Any
) -> None:
    kept(bench, job)
    for size in (1, 30):
        while Photo.objects.count() < size:
            kept(bench, job)
        with django_assert_max_num_queries(14):
            assert client.get(url("job-photos", job.pk)).status_code == 200
