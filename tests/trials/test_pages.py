"""Pages of trials: the refusal, papers without people, and as many queries for many pairs."""

from io import BytesIO
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from pypdf import PdfReader

from shopwarranty.analysis.trial_pooling import read_file
from shopwarranty.shops.history import Actor
from shopwarranty.trials import actions
from shopwarranty.trials.models import Draw, Trial
from tests.conftest import NOW, ShopPeople

from .conftest import open_job
from .test_results import drawn_job, look


def test_the_draw_on_a_customers_vehicle_is_refused_and_says_why(ours: ShopPeople, trial: Trial) -> None:
    job = open_job(owned="customer", holder=True)
    url = reverse("trial-draw", args=[ours.shop.slug, trial.pk])
    answer = ours.client(ours.installer).post(url, {"job": job.pk})
    assert answer.status_code == 409
    assert b"Nobody pays with their vehicle" in answer.content
    assert not Draw.objects.exists()


def test_consent_then_draw(ours: ShopPeople, trial: Trial) -> None:
    job = open_job(owned="customer", holder=True)
    client = ours.client(ours.desk)
    consent = reverse("trial-consent", args=[ours.shop.slug, trial.pk]) + f"?job={job.pk}"
    assert client.post(consent, {"words": "Yes"}).status_code == 200
    assert client.post(consent, {"words": "Yes", "agreed": "on"}).status_code == 302
    drawn = client.post(reverse("trial-draw", args=[ours.shop.slug, trial.pk]), {"job": job.pk})
    assert drawn["Location"] == reverse("job", args=[ours.shop.slug, job.pk])


def test_pdf_and_file_name_nobody_and_the_file_reads_back(ours: ShopPeople, trial: Trial) -> None:
    job = drawn_job(trial, ours)
    look(job, trial, "other")
    client, slug = ours.client(ours.owner), ours.shop.slug
    pdf = client.get(reverse("trial-pdf", args=[slug, trial.pk])).content
    text = "".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages)
    assert "To do the same" in text
    for word in (ours.shop.name, job.ref, job.vehicle.model, ours.installer.name, "2026"):
        assert word not in text
    content = client.get(reverse("trial-file", args=[slug, trial.pk])).content
    assert read_file(content).key == trial.key.hex
    url = reverse("trial-pool", args=[slug, trial.pk])
    again = client.post(url, {"file": SimpleUploadedFile("t.json", content)}, follow=True)
    assert b"the same file is there twice" in again.content
    other = client.post(url, {"file": SimpleUploadedFile("t.json", b"{}")}, follow=True)
    assert b"Not read" in other.content


def test_the_other_way_is_only_kept_with_a_reason(ours: ShopPeople, trial: Trial) -> None:
    row = actions.draw(trial=trial, job=open_job(), actor=Actor.of(ours.owner), now=NOW)[0]
    client, url = ours.client(ours.installer), reverse("draw-done", args=[ours.shop.slug, row.pk])
    client.post(url, {"did": "other", "why": " "})
    row.refresh_from_db()
    assert row.done_as == ""
    client.post(url, {"did": "other", "why": "No gun here"})
    row.refresh_from_db()
    assert (row.done_as, row.done_why) == ("other", "No gun here")


@pytest.mark.parametrize("name", ["trial", "trial-places"])
def test_pages_ask_as_often_for_one_job_as_for_three(
    name: str, ours: ShopPeople, trial: Trial, django_assert_max_num_queries: Any
) -> None:
    client, url = ours.client(ours.owner), reverse(name, args=[ours.shop.slug, trial.pk])
    for jobs in (1, 2):
        for _ in range(jobs):
            look(drawn_job(trial, ours), trial, "other")
            open_job()
        with django_assert_max_num_queries(24):
            assert client.get(url).status_code == 200
