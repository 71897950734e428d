"""What was seen at a check without a network: stored once with its photo, or refused with words."""

from io import BytesIO
from typing import Any
from uuid import uuid4

from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from shopwarranty.defects.models import Defect, PanelLook, Sighting
from shopwarranty.inspections.models import Visit
from shopwarranty.jobs.models import Photo, Place
from shopwarranty.shops.models.people import PhoneReceipt

from .test_pages import WRONG, answers, started, told
from .test_pages import job as job
from .test_pages import now as now
from .test_pages import page as page

HEARD = {"headers": {"Accept": "application/json", "X-Quiet": "1"}}


def photo() -> SimpleUploadedFile:
    out = BytesIO()
    Image.new("RGB", (60, 40), "grey").save(out, "JPEG")
    return SimpleUploadedFile("one.jpg", out.getvalue(), "image/jpeg")


def test_e91_a_panel_with_a_defect_and_its_photo_sent_twice_is_stored_once(page: Any, job: Any) -> None:
    visit, panels = started(page, job)
    place = Place.objects.filter(piece__panel_work=panels[0]).order_by("pk")[0]
    entry = {"entry_uid": str(uuid4()), "entry_age": "0", "entry_open": "9000"}
    for _time in range(2):
        sent = {**answers(place, "defect", **WRONG, photo=photo()), **entry, "act": "sweep"}
        answer = page(f"visits/{visit.pk}/panels/{panels[0]}/", sent, **HEARD)
        assert answer.json()["kept"] == entry["entry_uid"]
    assert (Defect.objects.count(), Sighting.objects.count(), Photo.objects.count()) == (1, 1, 1)
    looks = PanelLook.objects.all()
    assert len(looks) == 1
    assert PhoneReceipt.objects.count() == 1


def test_what_comes_after_the_visit_is_over_is_refused_and_changes_nothing(page: Any, job: Any) -> None:
    visit, panels = started(page, job)
    Visit.objects.filter(pk=visit.pk).update(state=Visit.State.FINISHED, finished_at=visit.started_at)
    place = Place.objects.filter(piece__panel_work=panels[0]).order_by("pk")[0]
    sent = {**answers(place, "clean"), "entry_uid": str(uuid4()), "act": "next"}
    answer = page(f"visits/{visit.pk}/panels/{panels[0]}/", sent, **HEARD)
    assert answer.status_code == 422
    assert "over" in answer.json()["refused"][0]
    assert told(visit) == {}


def test_e92_what_somebody_else_said_meanwhile_is_shown_and_may_be_overruled(page: Any, job: Any) -> None:
    visit, panels = started(page, job)
    place = Place.objects.filter(piece__panel_work=panels[0]).order_by("pk")[0]
    address = f"visits/{visit.pk}/panels/{panels[0]}/"
    page(address, {**answers(place, "clean"), "act": "stay"})
    mine = {**answers(place, "defect", **WRONG), "act": "stay"}
    answer = page(address, {**mine, "entry_uid": str(uuid4())}, **HEARD)
    assert answer.status_code == 422
    assert "Somebody said" in " ".join(answer.json()["refused"])
    fresh = answer.json()["fresh"]
    assert page(address, {**mine, **fresh, "entry_uid": str(uuid4())}, **HEARD).status_code == 200
    assert Defect.objects.count() == 1
