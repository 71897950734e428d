"""The demo shop in the database: whole, consistent, alive on its day, and loaded once."""

import hashlib
import re
from collections import Counter
from datetime import timedelta
from io import StringIO
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.test import Client, override_settings
from django.utils import timezone

from shopwarranty.claims.grounds import fact_grounds
from shopwarranty.claims.models import Claim, Decision
from shopwarranty.claims.promise import promise_for
from shopwarranty.defects.lives import differences
from shopwarranty.defects.models import Defect
from shopwarranty.demo.loading import load_demo
from shopwarranty.demo.people import SIGN_INS
from shopwarranty.desk.handover import what_is_missing
from shopwarranty.desk.today import load_today
from shopwarranty.films.models import Lot, Roll
from shopwarranty.inspections.models import Booking, Check, ContactAttempt, HolderReport, Visit
from shopwarranty.jobs.models import Job, Photo
from shopwarranty.shops import stored_bytes
from shopwarranty.shops.models import Change, Member
from shopwarranty.warranty.models import Certificate, Transfer
from tests import rules

from .conftest import TODAY, Demo
from .digest import digest_of


def test_two_loadings_for_one_day_say_the_same(demo: Demo) -> None:
    assert demo.first_digest == demo.digest


def test_an_existing_demo_shop_stays_as_it_is(demo: Demo) -> None:
    out = StringIO()
    call_command("load_demo", "--today", "2027-02-03", stdout=out)
    assert "stays as it is" in out.getvalue()
    assert load_demo(TODAY) is None
    assert digest_of(demo.shop) == demo.digest


def test_the_sign_ins_are_printed(demo: Demo) -> None:
    out = StringIO()
    call_command("show_sign_ins", stdout=out)
    assert all(email in out.getvalue() and password in out.getvalue() for _, email, password in SIGN_INS)
    assert len(out.getvalue().splitlines()) == 4


def test_a_day_that_is_no_day_is_refused(demo: Demo) -> None:
    with pytest.raises(CommandError) as refused:
        call_command("load_demo", "--today", "25.11.2026")
    assert refused.value.returncode == 2


def test_everybody_can_sign_in_with_what_is_printed(demo: Demo) -> None:
    for _role, email, password in SIGN_INS:
        client = Client()
        client.post("/sign-in/", {"username": email, "password": password})
        assert client.get("/s/demo/").status_code == 200


def test_every_rule_of_the_domain_holds(demo: Demo) -> None:
    assert rules.broken() == []


def test_stored_lives_are_what_the_record_says(demo: Demo) -> None:
    assert differences().total == 0


def test_nothing_lies_in_the_future(demo: Demo) -> None:
    before = demo.morning
    assert not Job.objects.filter(started_at__gte=before).exists()
    assert not Visit.objects.filter(started_at__gte=before).exists()
    assert not Change.objects.filter(at__gte=before).exists()
    assert not ContactAttempt.objects.filter(at__gte=before).exists()
    assert not Certificate.objects.filter(issued_at__gte=before).exists()


def test_the_day_is_alive_for_the_desk_and_in_the_bays(demo: Demo) -> None:
    desk = load_today(demo.shop, Member.objects.get(user__email="desk@harrow.example"), demo.morning)
    assert desk.calls >= 5 and len(desk.coming_in) == 4
    bays = load_today(demo.shop, Member.objects.get(user__email="abel@harrow.example"), demo.morning)
    assert len(bays.to_hand_over) == 2 and len(bays.unfinished) == 2


def test_the_week_ahead_has_appointments_and_one_that_was_moved(demo: Demo) -> None:
    week = Booking.objects.filter(starts_at__gte=demo.morning, starts_at__lt=demo.morning + timedelta(7))
    assert week.filter(state="booked").count() == 11
    plans = set(week.values_list("check_due__plan__key", flat=True))
    assert plans == {"two-week", "three-month", "yearly"}
    states = set(Booking.objects.values_list("state", flat=True))
    assert {"booked", "kept", "moved", "not_kept"} <= states


def test_some_checks_are_late_some_missed_some_given_up(demo: Demo) -> None:
    states = Counter(Check.objects.values_list("state", flat=True))
    assert all(states[state] for state in Check.State.values)
    assert Check.objects.filter(state="due", due_on__lt=TODAY).exists()
    assert not Check.objects.filter(state="due", window_to__lt=TODAY).exists()


def test_one_job_can_be_handed_over_and_one_lacks_something(demo: Demo) -> None:
    waiting = Job.objects.filter(state="open", ready_at__isnull=False).order_by("pk")
    ready, lacking = (
        [gap.key for gap in what_is_missing(j, demo.morning) if gap.kind != "tells"] for j in waiting
    )
    assert ready == []
    assert "vin" in lacking and any(key.startswith("not_refitted") for key in lacking)


def test_certificates_are_the_bytes_that_their_rows_name(demo: Demo) -> None:
    issued = list(Certificate.objects.all())
    assert 5 <= len(issued) <= 15
    with override_settings(MEDIA_ROOT=demo.media):
        for certificate in issued:
            content = stored_bytes.read(certificate.pdf_sha256)
            assert content.startswith(b"%PDF") and len(content) == certificate.pdf_length
            assert hashlib.sha256(content).hexdigest() == certificate.pdf_sha256
    assert all(re.fullmatch(r"HS-\d\d-\d{4}-\d\d", certificate.number) for certificate in issued)
    assert Transfer.objects.count() == 1


def test_claims_stand_at_every_stage_and_reports_wait(demo: Demo) -> None:
    assert set(Claim.objects.values_list("state", flat=True)) == set(Claim.State.values) - {"reopened"}
    reports = HolderReport.objects.filter(state="waiting")
    assert [(row.panel, row.photos.count()) for row in reports.order_by("sent_at")] == [
        ("left-mirror", 1),
        ("bonnet", 1),
    ]
    assert all(row.job.panels.filter(panel=row.panel).exists() for row in reports if row.job)


def test_every_answer_to_a_claim_is_one_that_the_page_would_have_taken(demo: Demo) -> None:
    """A refusal by a fact attached to its exclusion, an acceptance by a cover line that reaches."""
    answered = Decision.objects.select_related("item__claim__shop", "item__defect", "line")
    assert Counter(row.answer for row in answered) == {"accept": 2, "refuse": 1, "goodwill": 1}
    for row in answered:
        if row.answer == "refuse":
            grounds = {(ground.clause, ground.fact) for ground in fact_grounds(row.item)}
            assert (row.clause, row.fact) in grounds
            assert row.item.facts.get().photo is not None
            letter = row.item.claim.letters.get(about="decision").text
            assert row.clause in letter and row.fact in letter
        elif row.answer == "accept":
            assert row.line_id in {line.line_id for line in promise_for(row.item).covering}


def test_defects_are_in_every_state_but_one(demo: Demo) -> None:
    assert {"open", "remedied", "not_reproduced"} <= set(Defect.objects.values_list("state", flat=True))
    assert Defect.objects.filter(remedies__kind="replace_piece", remedies__new_piece__isnull=False).exists()


def test_one_lot_is_set_aside_and_rolls_say_what_is_left(demo: Demo) -> None:
    assert Lot.objects.filter(quarantined_at__isnull=False).count() == 1
    in_stock: Any = Roll.objects.with_left().filter(finished_on=None)
    left = [roll.left_mm for roll in in_stock]
    assert len(left) >= 8 and min(left) >= 0


def test_a_few_pictures_can_be_looked_at(demo: Demo) -> None:
    photos = list(Photo.objects.all())
    assert 4 <= len(photos) <= 8
    with override_settings(MEDIA_ROOT=demo.media):
        assert all(stored_bytes.read(photo.thumbnail_sha256) for photo in photos)


PAGES = ("", "week/", "checks/", "jobs/", "certificates/", "review/", "films/", "search/?q=0")


def test_the_pages_open_on_that_day(demo: Demo, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(timezone, "now", lambda: demo.morning)
    client = Client()
    owner = Member.objects.get(is_owner=True).user
    assert owner is not None
    client.force_login(owner)
    assert {page: client.get(f"/s/demo/{page}").status_code for page in PAGES} == dict.fromkeys(PAGES, 200)
