"""Claims at the desk, as they are used; letters and case file as PDF."""

import io
import subprocess
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pypdf import PdfReader

from shopwarranty.claims import actions
from shopwarranty.claims.actions import Reported
from shopwarranty.claims.case import items_of
from shopwarranty.claims.models import Claim, Decision, Letter, Proposal
from shopwarranty.jobs.models import Photo
from shopwarranty.shops import stored_bytes
from tests.claims.conftest import EXCLUSION, LATER, Bench
from tests.conftest import NOW

pytestmark = pytest.mark.usefixtures("at")


def url(name: str, *pks: object) -> str:
    return reverse(name, args=["kiln", *pks])


def client(bench: Bench, role: str = "owner") -> Any:
    return bench.people.client(getattr(bench.people, role))


def text_in(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split())


def test_one_is_opened_at_the_vehicle_decided_told_and_closed_by_its_pages(bench: Bench) -> None:
    defect, desk, owner = bench.defect(), client(bench, "desk"), client(bench)
    vehicle = bench.certificate.vehicle_id
    page = desk.get(url("new-claim", vehicle), {"defect": defect.pk}).content.decode()
    assert f'value="{defect.pk}" id="id_defects_0" checked' in " ".join(page.split())
    said = {
        "channel": "telephone", "first_reported_at": "2027-03-05T09:00", "defects": [defect.pk],
        "words": "It lifts at the front", "wanted": "press it down", "is_safety": "no",
    }  # fmt: skip
    assert desk.post(url("new-claim", vehicle), said).status_code == 302
    claim = Claim.objects.get()
    assert (claim.state, claim.claimant) == ("acknowledged", bench.certificate.holder)
    desk.post(url("claim-assess", claim.pk), {"is_safety": "no", "is_spreading": "", "note": ""})
    item = claim.items.get()
    shown = owner.get(url("claim", claim.pk)).content.decode()
    for words in ("In cover.", "No evidence either way", "no photo from before", "KL-26-0001-10"):
        assert words in shown, words
    prepared = {"answer": "accept", "line": bench.edge_line, "reason": "It lifts."}
    desk.post(url("claim-decide", item.pk), prepared)
    assert Proposal.objects.get().answer == "accept"
    assert not Decision.objects.exists()
    assert "It lifts." in owner.get(url("claim-decide", item.pk)).content.decode()
    owner.post(url("claim-decide", item.pk), prepared)
    assert "Read it as the holder will" in desk.get(url("claim-tell", claim.pk)).content.decode()
    desk.post(url("claim-tell", claim.pk))
    claim.refresh_from_db()
    assert claim.state == "told"
    refused = desk.post(url("claim-remedied", claim.pk), {"note": ""}).content.decode()
    assert "record its remedy first" in refused
    desk.post(url("record-remedy", defect.pk), {"kind": "reheat", "done_on": "2027-03-08"})
    desk.post(url("claim-remedied", claim.pk), {"note": ""})
    desk.post(url("claim-close", claim.pk), {"holder_said": "content"})
    claim.refresh_from_db()
    assert claim.state == "closed"


def test_refusing_is_not_even_offered_without_a_ground(bench: Bench) -> None:
    item = items_of(bench.claim())[0]
    page = client(bench).get(url("claim-decide", item.pk)).content.decode()
    assert "refusing is not offered" in page
    assert 'value="refuse"' not in page
    client(bench).post(
        url("claim-fact", item.pk), {"clause": EXCLUSION, "words": "A scrape.", "seen_where": "photo 3"}
    )
    assert 'value="refuse"' in client(bench).get(url("claim-decide", item.pk)).content.decode()


def test_what_was_typed_stays_when_something_is_missing(bench: Bench) -> None:
    page = url("new-claim", bench.certificate.vehicle_id)
    answer = client(bench).post(page, {"channel": "mail", "first_reported_at": "", "words": "It lifts"})
    assert answer.status_code == 200
    assert "It lifts</textarea>" in answer.content.decode()
    assert not Claim.objects.exists()


def test_the_list_finds_by_number_plate_and_name_and_shows_what_is_overdue(
    bench: Bench, at: Callable[[datetime], None]
) -> None:
    claim = bench.claim()
    for words in (claim.number, "7fn402", "a. exam"):
        assert claim.number in client(bench).get(url("claims"), {"q": words}).content.decode(), words
    assert claim.number not in client(bench).get(url("claims"), {"show": "overdue"}).content.decode()
    at(LATER + timedelta(days=20))
    page = client(bench).get(url("claims"), {"show": "overdue", "sort": "oldest"}).content.decode()
    assert claim.number in page
    assert "one is overdue" in page


def test_an_empty_list_says_what_to_do(bench: Bench) -> None:
    assert "press Open a claim" in client(bench).get(url("claims")).content.decode()


def test_pages_cost_the_same_however_many_claims_there_are(bench: Bench) -> None:
    claim, owner = bench.claim(), client(bench)
    pages = (url("claims"), url("claim", claim.pk))
    few = [counted(owner, page) for page in pages]
    for nth in range(3):
        bench.claim(Reported(f"more {nth}", place=bench.edge(nth=1)))
    assert [counted(owner, page) for page in pages] == few
    assert few[0] <= 9
    assert few[1] <= 60


def counted(visitor: Any, page: str) -> int:
    visitor.get(page)
    with CaptureQueriesContext(connection) as asked:
        assert visitor.get(page).status_code == 200
    return len(asked)


def test_the_case_file_is_one_sound_pdf_with_everything(bench: Bench, tmp_path: Path) -> None:
    claim = bench.claim()
    item = items_of(claim)[0]
    actions.add_fact(
        item=item, clause=EXCLUSION, words="A scrape.", seen_where="photo 3", actor=bench.desk, now=LATER
    )
    bench.decide(items_of(claim)[0], "accept", line_id=bench.edge_line, reason="The scrape did not reach it.")
    actions.tell(claim=claim, actor=bench.desk, now=LATER)
    content = client(bench).get(url("claim-case-file", claim.pk)).content
    text = text_in(content)
    for words in (
        claim.number, "KL-26-0001-10", "61-0934", "An edge lifts", "in cover", "A scrape.", "by method",
        "There is no photo from before", "The scrape did not reach it.", "what we decided about your claim",
        "Nothing was recorded of how the panel came",
    ):  # fmt: skip
        assert words in text, words
    file = tmp_path / "case.pdf"
    file.write_bytes(content)
    subprocess.run(["/usr/bin/qpdf", "--check", file], check=True, capture_output=True)


def test_the_letters_bytes_are_those_that_were_sent(bench: Bench) -> None:
    claim = bench.claim()
    bench.decide(items_of(claim)[0], "goodwill", reason="Gladly.")
    actions.tell(claim=claim, actor=bench.desk, now=LATER)
    letter = Letter.objects.get(about="decision")
    content = client(bench).get(url("claim-letter", letter.pk)).content
    assert content == stored_bytes.read(letter.pdf_sha256)
    text = text_in(content)
    assert "as goodwill, outside the warranty" in text
    assert "Gladly." in text
    assert "Your rights under the law" in text


def test_E83_photos_from_before_stand_in_the_case_and_where_there_are_none_it_is_said(bench: Bench) -> None:
    claim, desk = bench.claim(), client(bench, "desk")
    missing = "There is no photo from before or during the work."
    assert missing in desk.get(url("claim", claim.pk)).content.decode()
    work = bench.edge().piece.panel_work
    photo = Photo.objects.create(
        vehicle=bench.certificate.vehicle, job=bench.job, panel_work=work, stage="intake",
        sha256=stored_bytes.keep(b"picture").sha256, original_sha256="0" * 64,
        length=7, width=1, height=1, added_at=NOW, taken_at=NOW,
    )  # fmt: skip
    shown = desk.get(url("claim", claim.pk)).content.decode()
    assert missing not in shown
    assert url("photo", photo.pk, "full") in shown
    assert "November 25, 2026" in shown.split(url("photo", photo.pk, "full"))[1].split("</li>")[0]
