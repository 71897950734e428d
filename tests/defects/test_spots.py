"""Before "the rest is clean" counts, two places drawn at random are looked at by themselves."""

import base64
import io
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import DatabaseError, transaction
from PIL import Image

from shopwarranty.defects import actions
from shopwarranty.defects.models import PanelLook, SpotProof
from shopwarranty.inspections.actions import start_visit, sweep_panel
from shopwarranty.inspections.models import CheckRules, Finding, Visit
from shopwarranty.shops.history import Actor
from shopwarranty.shops.stored_bytes import read
from tests import builders as b

from .test_pages import answers, prove, started, text_of
from .test_pages import job as job
from .test_pages import now as now
from .test_pages import page as page


@pytest.fixture
def hand(ours: Any) -> Actor:
    return Actor.of(ours.installer)


def swept(job: Any, hand: Actor, **more: Any) -> Visit:
    """A visit in which every panel was said clean with one press."""
    values = {"origin": Visit.Origin.PLANNED, **more}
    visit = start_visit(job=job, actor=hand, now=b.NOW, today=b.TODAY, **values)
    for work in job.panels.all():
        sweep_panel(visit=visit, panel_work=work, now=b.NOW)
    return visit


def later(minutes: int) -> datetime:
    return b.NOW + timedelta(minutes=minutes)


def test_two_places_are_drawn_from_what_was_swept_and_stay_the_same_when_asked_again(
    job: Any, hand: Actor
) -> None:
    visit = swept(job, hand)
    first = actions.draw_spots(visit=visit, now=later(1))
    again = actions.draw_spots(visit=visit, now=later(2))
    assert len(first) == 2
    assert [one.place_id for one in first] == [one.place_id for one in again]
    assert first[0].drawn_from == visit.findings.count()


def test_each_visit_draws_by_its_own_seed(job: Any, hand: Actor) -> None:
    """Six visits to the same places: hardly two draw the same pair, though each would draw its own again."""
    drawn = set()
    for _round in range(6):
        visit = swept(job, hand)
        drawn.add(tuple(sorted(one.place_id for one in actions.draw_spots(visit=visit, now=later(1)))))
        actions.forgo_spots(visit=visit, actor=hand, now=later(2))
        actions.finish_look(visit=visit, actor=hand, now=later(2))
    assert len(drawn) > 2


def test_what_is_swept_after_the_draw_is_drawn_from_as_well(job: Any, hand: Actor) -> None:
    first, *rest = job.panels.all()
    visit = start_visit(job=job, origin="planned", actor=hand, now=b.NOW, today=b.TODAY)
    sweep_panel(visit=visit, panel_work=first, now=b.NOW)
    for spot in actions.draw_spots(visit=visit, now=later(1)):
        actions.answer_spot(spot=spot, is_clean=True, actor=hand, now=later(2))
    for work in rest:
        sweep_panel(visit=visit, panel_work=work, now=later(3))
    panels = {spot.place.piece.panel_work for spot in actions.draw_spots(visit=visit, now=later(4))}
    assert panels <= set(rest)
    assert visit.spots.count() == 4


def test_a_place_clean_again_is_told_apart_from_one_only_swept(page: Any, job: Any, hand: Actor) -> None:
    visit = swept(job, hand)
    page(f"visits/{visit.pk}/finish/", {"note": "washed", "signed_name": "A. Example"})
    assert Visit.objects.get(pk=visit.pk).state == "open"
    prove(page, visit)
    visit.refresh_from_db()
    assert (visit.state, visit.note, visit.signed_name) == ("finished", "washed", "A. Example")
    said = list(visit.findings.values_list("said", flat=True))
    assert said.count(Finding.Said.SPOT_PROVED) == 2
    assert said.count(Finding.Said.SWEPT) == len(said) - 2


def test_a_place_wrong_after_all_is_a_miss_and_leads_to_its_panel(page: Any, job: Any, hand: Actor) -> None:
    visit = swept(job, hand)
    page(f"visits/{visit.pk}/finish/", {"note": ""})
    answer = prove(page, visit, "wrong")
    assert "Say what is wrong there." in text_of(answer)
    assert set(visit.spots.values_list("found", flat=True)) == {SpotProof.Found.DEFECT}
    assert visit.findings.filter(result="defect", said="spot_proved").count() == 2
    assert Visit.objects.get(pk=visit.pk).state == "open"


def test_without_the_second_look_what_was_only_swept_is_not_looked_at(
    page: Any, job: Any, hand: Actor
) -> None:
    visit = start_visit(job=job, origin="planned", actor=hand, now=b.NOW, today=b.TODAY)
    tapped = b.a_place(job, "window", "left-front-door")
    actions.say_place(visit=visit, said=actions.PlaceSaid(tapped, "clean"), actor=hand, now=b.NOW)
    for work in job.panels.all():
        sweep_panel(visit=visit, panel_work=work, now=b.NOW)
    page(f"visits/{visit.pk}/finish/", {"note": ""})
    page(f"visits/{visit.pk}/spots/", {"act": "forgo"})
    visit.refresh_from_db()
    assert visit.state == "finished"
    assert [each.place for each in visit.findings.filter(result="clean")] == [tapped]
    assert set(visit.spots.values_list("found", flat=True)) == {SpotProof.Found.NOT_SHOWN}


def test_a_half_answered_page_asks_for_the_rest_and_keeps_what_was_pressed(
    page: Any, job: Any, hand: Actor
) -> None:
    visit = swept(job, hand)
    page(f"visits/{visit.pk}/finish/", {"note": ""})
    first = visit.spots.all()[0]
    answer = page(f"visits/{visit.pk}/spots/", {f"spot-{first.pk}": "clean"})
    assert "Press what you see." in text_of(answer)
    assert f'name="spot-{first.pk}" value="clean" checked' in answer.content.decode()
    assert not visit.spots.exclude(found="").exists()


def test_nothing_is_asked_where_nothing_was_swept_or_at_handover(job: Any, hand: Actor) -> None:
    visit = start_visit(job=job, origin="planned", actor=hand, now=b.NOW, today=b.TODAY)
    assert actions.draw_spots(visit=visit, now=later(1)) == ()
    look = swept(b.a_job(), hand, is_handover_look=True)
    assert actions.draw_spots(visit=look, now=later(1)) == ()


def test_what_was_drawn_is_never_drawn_away(job: Any, hand: Actor) -> None:
    visit = swept(job, hand)
    spot = actions.draw_spots(visit=visit, now=later(1))[0]
    other = visit.findings.exclude(place__in=visit.spots.values("place"))[0]
    with pytest.raises(DatabaseError), transaction.atomic():
        SpotProof.objects.filter(pk=spot.pk).update(place=other.place)
    with pytest.raises(DatabaseError), transaction.atomic():
        SpotProof.objects.filter(pk=spot.pk).delete()


def test_time_and_order_on_each_page_are_kept(page: Any, job: Any) -> None:
    visit, panels = started(page, job)
    place = b.a_place(job, "window", "left-front-door")
    said = {"act": "next", "opened": b.NOW.isoformat(), **answers(place, "clean")}
    page(f"visits/{visit.pk}/panels/{panels[1]}/", said)
    page(f"visits/{visit.pk}/panels/{panels[0]}/", {"act": "sweep", "opened": "2031-01-01T00:00:00+00:00"})
    first, second = PanelLook.objects.all()
    assert (first.panel_work_id, first.tapped, first.swept) == (panels[1], 1, 0)
    assert first.opened_at == b.NOW
    assert (second.panel_work_id, second.opened_at) == (panels[0], None)
    assert second.swept == second.places


def test_a_signature_drawn_with_a_finger_is_made_anew_before_it_is_kept(
    page: Any, job: Any, hand: Actor
) -> None:
    visit = start_visit(job=job, origin="planned", actor=hand, now=b.NOW, today=b.TODAY)
    out = io.BytesIO()
    Image.new("RGB", (720, 240), "white").save(out, "PNG")
    sent = base64.b64encode(out.getvalue() + b"<script>").decode()
    page(f"visits/{visit.pk}/finish/", {"note": "", "signature": f"data:image/png;base64,{sent}"})
    visit.refresh_from_db()
    kept = read(visit.signature_sha256)
    assert kept[:3] == b"\xff\xd8\xff"
    assert b"<script>" not in kept
    assert page(f"visits/{visit.pk}/signature/")["Content-Type"] == "image/jpeg"


def test_a_signature_that_cannot_be_read_keeps_the_visit_open(page: Any, job: Any, hand: Actor) -> None:
    visit = start_visit(job=job, origin="planned", actor=hand, now=b.NOW, today=b.TODAY)
    answer = page(f"visits/{visit.pk}/finish/", {"note": "kept", "signature": "data:image/png;base64,AAAA"})
    assert "Sign again." in text_of(answer)
    assert "kept" in text_of(answer)
    assert page(f"visits/{visit.pk}/signature/").status_code == 404


def test_where_the_shop_wants_a_photo_of_the_second_look_nothing_is_kept_without(
    page: Any, job: Any, hand: Actor
) -> None:
    CheckRules.objects.create(spot_photo=True)
    visit = swept(job, hand)
    page(f"visits/{visit.pk}/finish/", {"note": ""})
    assert "needs a photo" in text_of(prove(page, visit))
    assert visit.spots.filter(found="").count() == 2
    answers_and_photos = {
        name: value
        for spot in visit.spots.all()
        for name, value in ((f"spot-{spot.pk}", "clean"), (f"photo-{spot.pk}", picture()))
    }
    page(f"visits/{visit.pk}/spots/", answers_and_photos)
    visit.refresh_from_db()
    assert (visit.state, visit.spots.filter(photo=None).count()) == ("finished", 0)


def picture() -> SimpleUploadedFile:
    out = io.BytesIO()
    Image.new("RGB", (64, 48), "grey").save(out, "JPEG")
    return SimpleUploadedFile("edge.jpg", out.getvalue(), "image/jpeg")
