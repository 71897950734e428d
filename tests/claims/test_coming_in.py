"""How a claim comes in: photos through the hardened path, and a holder's report in one step.

ISO 10002 (restated): a complaint is received with what supports it, and acknowledged at once. The day of the
first report is the day the holder sent it (E76; common practice, no source).
"""

import io
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image

from shopwarranty.claims import actions, refusals
from shopwarranty.claims.case import items_of, photos_of
from shopwarranty.claims.models import Claim, ClaimPhoto
from shopwarranty.claims.promise import promise_for
from shopwarranty.inspections.holder.reports import add_photos as add_to_report
from shopwarranty.inspections.models import HolderReport, Visit
from shopwarranty.jobs.models import Photo
from shopwarranty.outbox.models import Message
from shopwarranty.shops import stored_bytes
from tests import builders
from tests.claims.conftest import LAST_DAY, LATER, Bench
from tests.warranty.conftest import TODAY

pytestmark = pytest.mark.usefixtures("at")
SENT = LATER - timedelta(days=2)


def jpeg() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (80, 60), "grey").save(out, "JPEG")
    return out.getvalue()


def url(name: str, *pks: int) -> str:
    return reverse(name, args=["kiln", *pks])


def a_file(content: bytes, name: str = "edge.jpg") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, content, content_type="image/jpeg")


def reported(bench: Bench, **more: Any) -> HolderReport:
    values = {"words": "It lifts at the front", "sent_at": SENT, "place": bench.edge(), "panel": "bonnet"}
    return builders.a_report(bench.job, **{**values, **more})


def from_report(bench: Bench, report: HolderReport) -> Claim:
    return actions.claim_from_report(
        report=report, job=bench.job, actor=bench.desk, now=LATER, today=LATER.date()
    )


def test_a_holders_report_becomes_a_claim_in_one_step(bench: Bench) -> None:
    report = reported(bench)
    add_to_report(report=report, files=[a_file(jpeg())], now=SENT)
    client = bench.people.client(bench.people.desk)
    assert url("claim-from-report", report.pk) in client.get(url("report", report.pk)).content.decode()
    answer = client.post(url("claim-from-report", report.pk))
    claim = Claim.objects.get()
    assert answer["Location"] == url("claim", claim.pk)
    assert (claim.channel, claim.first_reported_at, claim.received_at) == ("holder", SENT, LATER)
    assert (claim.state, claim.claimant) == ("acknowledged", report.party)
    item = items_of(claim)[0]
    assert (item.place, item.words, item.is_ours) == (bench.edge(), "It lifts at the front", True)
    report.refresh_from_db()
    assert report.state == "accepted"
    assert claim.visit == report.visit
    assert claim.visit is not None
    assert claim.visit.by_photo
    assert [photo.stage for photo in photos_of(item)] == ["report"]
    assert Message.objects.filter(key=f"claim:{claim.pk}:received").count() == 1


def test_asked_for_twice_it_opens_one_claim(bench: Bench) -> None:
    report = reported(bench)
    client = bench.people.client(bench.people.desk)
    for _ in range(2):
        client.post(url("claim-from-report", report.pk))
    assert Claim.objects.count() == 1
    assert Message.objects.filter(key__endswith=":received").count() == 1


def test_a_report_that_was_accepted_before_opens_a_claim_with_its_visit(bench: Bench) -> None:
    report = reported(bench)
    client = bench.people.client(bench.people.desk)
    client.post(url("report-accept", report.pk))
    report.refresh_from_db()
    client.post(url("claim-from-report", report.pk))
    assert Claim.objects.get().visit_id == report.visit_id
    assert Visit.objects.filter(by_photo=True).count() == 1


def test_one_that_was_put_aside_is_taken_up_again_first(bench: Bench) -> None:
    report = reported(bench)
    HolderReport.objects.filter(pk=report.pk).update(state="set_aside", set_aside_why="sent twice")
    client = bench.people.client(bench.people.desk)
    answer = client.post(url("claim-from-report", report.pk), follow=True)
    assert not Claim.objects.exists()
    assert answer.redirect_chain[0][0] == url("report", report.pk)
    assert 'role="status"' in answer.content.decode() or "notice" in answer.content.decode()


def test_of_a_vehicle_with_two_jobs_somebody_says_which_one(bench: Bench) -> None:
    other = builders.a_job(vehicle=bench.certificate.vehicle, handed_over_on=TODAY)
    report = reported(bench, place=None, panel="")
    HolderReport.objects.filter(pk=report.pk).update(job=None)
    client = bench.people.client(bench.people.desk)
    answer = client.post(url("claim-from-report", report.pk), follow=True)
    assert "Choose first which job it is about" in answer.content.decode()
    client.post(url("claim-from-report", report.pk), {"job": other.pk})
    assert Visit.objects.get(claims__isnull=False).job == other


def test_E76_reported_on_the_last_day_and_opened_after_it_is_in_cover(
    bench: Bench, at: Callable[[datetime], None]
) -> None:
    """The last covered day of edges is November 25, 2028, in New York."""
    on_the_last_day = builders.noon(LAST_DAY)
    report = reported(bench, sent_at=on_the_last_day)
    after = on_the_last_day + timedelta(days=9)
    at(after)
    claim = actions.claim_from_report(
        report=report, job=bench.job, actor=bench.desk, now=after, today=after.date()
    )
    assert next(line.in_time for line in promise_for(items_of(claim)[0]).lines)


def test_photos_sent_with_a_claim_are_cleaned_and_stand_in_the_case(bench: Bench) -> None:
    client = bench.people.client(bench.people.desk)
    sent = jpeg()
    said = {
        "channel": "in_person", "first_reported_at": "2027-03-05T09:00", "place": bench.edge().pk,
        "words": "It lifts", "wanted": "", "is_safety": "", "uid": str(uuid4()),
        "photos": [a_file(sent), a_file(b"no photo", "note.jpg")],
    }  # fmt: skip
    answer = client.post(url("new-claim", bench.certificate.vehicle_id), said, follow=True)
    claim = Claim.objects.get()
    photo = Photo.objects.get(stage="report")
    assert ClaimPhoto.objects.get().photo == photo
    assert stored_bytes.read(photo.sha256) != sent  # written anew, nothing of the file is kept
    assert "note.jpg is not a photo we can keep" in answer.content.decode()
    assert reverse("photo", args=["kiln", photo.pk, "small"]) in answer.content.decode()
    assert claim.state == "acknowledged"


def test_the_form_pressed_twice_opens_one_claim_with_each_photo_once(bench: Bench) -> None:
    client, sent = bench.people.client(bench.people.desk), jpeg()
    said = {"channel": "in_person", "first_reported_at": "2027-03-05T09:00", "words": "It lifts"}
    uid = str(uuid4())
    for _ in range(2):
        more = {"wanted": "", "is_safety": "", "place": "", "uid": uid, "photos": [a_file(sent)]}
        client.post(url("new-claim", bench.certificate.vehicle_id), {**said, **more})
    assert Claim.objects.count() == ClaimPhoto.objects.count() == 1
    assert Message.objects.filter(key__endswith=":received").count() == 1


def test_more_photos_come_later_until_it_is_closed(bench: Bench) -> None:
    claim = bench.received()
    client: Client = bench.people.client(bench.people.installer)
    answer = client.post(url("claim-photos", claim.pk), {"photos": [a_file(jpeg())]}, follow=True)
    assert "One photo is kept" in answer.content.decode()
    assert claim.photos.count() == 1
    Claim.objects.filter(pk=claim.pk).update(state="closed")
    with pytest.raises(refusals.NotAtThisStage):
        actions.add_photos(claim=claim, files=[a_file(jpeg())], actor=bench.desk, now=LATER)
    page = client.get(url("claim", claim.pk)).content.decode()
    assert url("claim-photos", claim.pk) not in page
