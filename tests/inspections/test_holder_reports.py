"""What a holder says about an edge: kept apart, capped, and then a visit that claims no more than it saw."""

import io
from datetime import date, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.utils import timezone
from PIL import Image

from shopwarranty.defects.actions import see_defect
from shopwarranty.inspections import actions
from shopwarranty.inspections.actions.refusals import PhotosDoNotShowIt
from shopwarranty.inspections.holder import reports as holder_reports
from shopwarranty.inspections.holder.reports import accept_report, set_report_aside
from shopwarranty.inspections.holder.words import span_of
from shopwarranty.inspections.models import Finding, HolderReport, ReportPhoto, Visit
from shopwarranty.jobs.models import Job, Photo
from shopwarranty.shops import stored_bytes
from shopwarranty.shops.history import Actor
from shopwarranty.shops.models import Change
from tests import builders as b

from .test_holder import link_to, text_of


@pytest.fixture
def now(monkeypatch: pytest.MonkeyPatch) -> datetime:
    monkeypatch.setattr(timezone, "now", lambda: b.NOW)
    return b.NOW


@pytest.fixture
def job(ours: Any) -> Job:
    return b.a_job(handed_over_on=b.days_ago(30), panels=("left-front-door", "roof"))


@pytest.fixture
def path(job: Job) -> str:
    return link_to(b.a_check(job))


def picture(
    name: str = "edge.jpg", *, size: tuple[int, int] = (64, 48), gps: bool = False
) -> SimpleUploadedFile:
    out, exif = io.BytesIO(), Image.Exif()
    if gps:
        exif.get_ifd(0x8825)[1] = "N"  # GPSLatitudeRef, CIPA DC-008 (Exif 3.0) section 4.6.6
    Image.new("RGB", size, (120, 90, 40)).save(out, "JPEG", exif=exif)
    return SimpleUploadedFile(name, out.getvalue(), content_type="image/jpeg")


def send(path: str, panel: str = "left-front-door", **more: Any) -> Any:
    values = {"since": "week", "words": "It lifts.", "sent_as": str(uuid4()), **more}
    return Client().post(f"{path}report/at/{panel}/", values)


def a_place(job: Job, panel: str = "left-front-door") -> Any:
    return job.panels.get(panel=panel).pieces.get().places.order_by("walk").first()


def test_a_report_names_panel_place_and_the_days_between_which_it_began(
    now: datetime, job: Job, path: str
) -> None:
    place = a_place(job)
    answer = send(path, place=place.pk, photos=[picture(), picture("b.jpg", size=(40, 40))])
    assert answer.status_code == 302
    report = HolderReport.objects.get()
    assert (report.panel, report.place, report.job) == ("left-front-door", place, job)
    # "some days, up to a week", said on Wednesday 25 November: began from the 18th to the 23rd
    assert (report.since_when, report.since_until) == (date(2026, 11, 18), date(2026, 11, 23))
    assert report.since_when_words == "some days, up to a week"
    assert (report.state, report.photos.count()) == ("waiting", 2)
    assert "we have not looked at it yet" in text_of(Client().get(path))


def test_who_cannot_say_since_when_says_nothing_about_it() -> None:
    assert span_of("unknown", b.TODAY) == (None, None)
    assert span_of("longer", b.TODAY) == (None, b.TODAY - timedelta(days=32))


def test_spans_one_can_pick_leave_no_day_out_and_none_twice() -> None:
    days: list[date] = []
    for key in ("today", "week", "month"):
        first, last = span_of(key, b.TODAY)
        assert first
        assert last
        days += [first + timedelta(days=n) for n in range((last - first).days + 1)]
    longer = span_of("longer", b.TODAY)[1]
    assert sorted(days) == [b.TODAY - timedelta(days=n) for n in range(31, -1, -1)]
    assert longer == min(days) - timedelta(days=1)


def test_photos_are_cleaned_and_belong_to_no_job_until_the_desk_accepts(
    now: datetime, job: Job, path: str, ours: Any
) -> None:
    send(path, photos=[picture(gps=True)])
    photo = Photo.objects.get()
    assert (photo.stage, photo.job, photo.panel_work) == ("report", None, None)
    kept = Image.open(io.BytesIO(stored_bytes.read(photo.sha256)))
    assert not kept.getexif().get_ifd(0x8825)
    desk = ours.client(ours.desk)
    assert "No photos yet" in text_of(desk.get(f"/s/kiln/jobs/{job.pk}/photos/"))
    accept_report(
        report=HolderReport.objects.get(), job=None, actor=Actor.of(ours.desk), now=b.NOW, today=b.TODAY
    )
    photo.refresh_from_db()
    assert (photo.job, photo.panel_work) == (job, job.panels.get(panel="left-front-door"))


def test_a_file_that_is_no_photo_is_named_and_the_rest_is_kept(now: datetime, path: str) -> None:
    answer = Client()
    values = {"since": "today", "words": "", "sent_as": str(uuid4())}
    page = answer.post(
        f"{path}report/at/roof/",
        {**values, "photos": [SimpleUploadedFile("a.svg", b"<svg onload='x'/>"), picture()]},
        follow=True,
    )
    assert "a.svg is not a photo we can keep" in text_of(page)
    assert ReportPhoto.objects.count() == 1


def test_photos_are_capped_per_address_in_number_and_bytes(
    now: datetime, path: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(holder_reports, "MOST_PHOTOS", 3)
    send(path, photos=[picture() for _ in range(2)])
    answer = send(path, photos=[picture() for _ in range(3)])
    assert answer.status_code == 302
    assert ReportPhoto.objects.count() == 3
    monkeypatch.setattr(holder_reports, "MOST_PHOTOS", 100)
    monkeypatch.setattr(holder_reports, "MOST_BYTES", 10)
    send(path, photos=[picture()])
    assert ReportPhoto.objects.count() == 3
    assert HolderReport.objects.count() == 3  # what was said is kept, whatever becomes of the photos


def test_at_most_six_photos_at_once(now: datetime, path: str) -> None:
    send(path, photos=[picture() for _ in range(8)])
    assert ReportPhoto.objects.count() == holder_reports.PHOTOS_AT_ONCE == 6


def test_reports_are_capped_per_day(now: datetime, path: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(holder_reports, "REPORTS_A_DAY", 2)
    answers = [send(path) for _ in range(3)]
    assert [answer.status_code for answer in answers] == [302, 302, 200]
    assert "It lifts." in answers[-1].content.decode()  # what was typed is kept


def test_sent_twice_it_is_kept_once(now: datetime, path: str) -> None:
    key = str(uuid4())
    for _ in range(2):
        send(path, sent_as=key)
    assert HolderReport.objects.count() == 1


def test_its_photos_are_kept_once_as_well(now: datetime, path: str) -> None:
    """The answer got lost, so the form is sent anew: the same files are not a second pair."""
    key = str(uuid4())
    for _ in range(2):
        send(path, sent_as=key, photos=[picture(), picture("b.jpg", size=(40, 40))])
    assert (Photo.objects.count(), ReportPhoto.objects.count()) == (2, 2)


def test_photos_sent_at_once_do_not_get_past_the_cap(
    now: datetime, path: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two answers that both saw room: the second is counted again with the link held, and put aside."""
    send(path)
    report = HolderReport.objects.get()
    monkeypatch.setattr(holder_reports, "MOST_PHOTOS", 1)
    counted = holder_reports.has_room
    holder_reports.add_photos(report=report, files=[picture()], now=b.NOW)
    monkeypatch.setattr(holder_reports, "has_room", lambda link, length: not length or counted(link, length))
    late = picture("late.jpg", size=(40, 40))
    late.size = 0
    result = holder_reports.add_photos(report=report, files=[late], now=b.NOW)
    assert (result.kept, len(result.refused)) == (0, 1)
    assert report.photos.count() == 1
    assert Photo.objects.filter(set_aside_at__isnull=True).count() == 1


def test_an_empty_report_is_asked_for_one_of_three_things(now: datetime, path: str) -> None:
    assert "one of the three is enough" in text_of(send(path, words=""))
    assert not HolderReport.objects.exists()


def test_a_place_of_another_vehicle_cannot_be_named(now: datetime, path: str) -> None:
    other = a_place(b.a_job(handed_over_on=b.days_ago(3)))
    assert send(path, place=other.pk).status_code == 200
    assert not HolderReport.objects.exists()
    assert Client().get(f"{path}report/at/rear-bumper/").status_code == 404  # no film of ours on it


def test_who_cannot_name_the_panel_can_still_say_it(now: datetime, job: Job, path: str) -> None:
    answer = Client().post(f"{path}report/other/", {"since": "unknown", "words": "Something flaps."})
    assert answer.status_code == 302
    report = HolderReport.objects.get()
    assert (report.panel, report.place, report.job, report.since_when_words) == ("", None, job, "")


def test_accepted_it_is_a_visit_by_photo_that_says_clean_of_nothing_unseen(
    now: datetime, job: Job, path: str, ours: Any
) -> None:
    """E62: method photo, and never "clean" for places nobody saw; rule 1: unknown stays unknown."""
    place = a_place(job)
    send(path, place=place.pk, photos=[picture()])
    desk = ours.client(ours.desk)
    report = HolderReport.objects.get()
    answer = desk.post(f"/s/kiln/reports/{report.pk}/accept/")
    visit = Visit.objects.get()
    work = place.piece.panel_work
    assert (
        answer["Location"].endswith(f"/visits/{visit.pk}/panel/{work.pk}/")
        or str(work.pk) in answer["Location"]
    )
    assert "Say what they show" in text_of(desk.get(f"/s/kiln/reports/{report.pk}/"))
    assert "we are looking at it" in text_of(Client().get(path))
    beside = desk.get(answer["Location"]).content.decode()
    assert "What the holder sent" in beside
    assert f"/photos/{ReportPhoto.objects.get().photo_id}/" in beside
    assert (visit.by_photo, visit.origin, visit.since_when) == (True, "defect", date(2026, 11, 18))
    with pytest.raises(PhotosDoNotShowIt):
        actions.sweep_panel(visit=visit, panel_work=work, now=b.NOW)
    finding = actions.say_finding(visit=visit, place=place, result=Finding.Result.DEFECT, now=b.NOW)
    see_defect(finding=finding, kind="edge-lift", severity=2, actor=Actor.of(ours.desk), now=b.NOW)
    actions.finish_visit(visit=visit, actor=Actor.of(ours.desk), now=b.NOW)
    results = dict(visit.findings.values_list("place", "result"))
    assert results.pop(place.pk) == "defect"
    assert set(results.values()) == {"not_looked"}
    assert len(results) > 5
    report.refresh_from_db()
    assert (report.state, report.visit, report.settled_by) == ("accepted", visit, ours.desk)
    assert "To the visit by photo" in text_of(desk.get(f"/s/kiln/reports/{report.pk}/"))
    assert "we have looked at it" in text_of(Client().get(path))


def test_an_accepted_report_settles_no_check(now: datetime, job: Job, path: str, ours: Any) -> None:
    send(path)
    accept_report(
        report=HolderReport.objects.get(), job=None, actor=Actor.of(ours.desk), now=b.NOW, today=b.TODAY
    )
    actions.finish_visit(visit=Visit.objects.get(), actor=Actor.of(ours.desk), now=b.NOW)
    assert set(job.checks.values_list("state", flat=True)) == {"due"}


def test_two_at_the_desk_answer_a_report_once(now: datetime, path: str, ours: Any) -> None:
    send(path)
    report, same = HolderReport.objects.get(), HolderReport.objects.get()
    set_report_aside(report=report, why="Not our film.", actor=Actor.of(ours.desk), now=b.NOW)
    desk = ours.client(ours.desk)
    answer = desk.post(f"/s/kiln/reports/{same.pk}/accept/", follow=True)
    assert "Somebody has answered this report in the meantime" in text_of(answer)
    assert not Visit.objects.exists()
    assert Change.objects.filter(table="inspections_holderreport").count() == 1


def test_put_aside_it_is_kept_with_its_reason_and_can_be_taken_up_again(
    now: datetime, path: str, ours: Any
) -> None:
    send(path, photos=[picture()])
    report, desk = HolderReport.objects.get(), ours.client(ours.desk)
    page = f"/s/kiln/reports/{report.pk}/"
    assert desk.post(f"{page}aside/", {"why": ""}).status_code == 200
    desk.post(f"{page}aside/", {"why": "Dirt on the paint, told by telephone."})
    assert "Dirt on the paint" in text_of(desk.get(page))
    assert "read, and put aside" in text_of(Client().get(path))
    desk.post(f"{page}again/")
    report.refresh_from_db()
    assert (report.state, report.set_aside_why, report.photos.count()) == ("waiting", "", 1)


def test_a_vehicle_with_two_jobs_asks_which_one_it_is_about(now: datetime, ours: Any) -> None:
    first = b.a_job(handed_over_on=b.days_ago(400))
    second = b.a_job(vehicle=first.vehicle, handed_over_on=b.days_ago(20), panels=("roof",))
    path = link_to(b.a_check(second))
    Client().post(f"{path}report/other/", {"since": "unknown", "words": "Somewhere."})
    report, desk = HolderReport.objects.get(), ours.client(ours.desk)
    assert report.job is None
    assert desk.post(f"/s/kiln/reports/{report.pk}/accept/").status_code == 200
    desk.post(f"/s/kiln/reports/{report.pk}/accept/", {"job": second.pk})
    assert Visit.objects.get().job == second


def test_a_report_shows_on_today_and_in_the_list(now: datetime, path: str, ours: Any) -> None:
    desk = ours.client(ours.desk)
    assert "has sent a report" not in text_of(desk.get("/s/kiln/"))
    send(path)
    assert "A holder has sent a report about an edge" in text_of(desk.get("/s/kiln/"))
    words = text_of(desk.get("/s/kiln/reports/"))
    assert "One report from a holder waits." in words
    assert "It lifts." in words


def test_the_list_of_reports_asks_the_same_however_long(
    now: datetime, ours: Any, job: Job, django_assert_max_num_queries: Any
) -> None:
    desk = ours.client(ours.desk)
    for count in (1, 20):
        for _ in range(count):
            b.a_report(job, panel="roof")
        with django_assert_max_num_queries(14):
            desk.get("/s/kiln/reports/")
