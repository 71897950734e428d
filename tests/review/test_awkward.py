"""Awkward cases as the review shows them, by their numbers."""

from datetime import date, timedelta
from typing import Any

import pytest

from shopwarranty.defects.lives import rebuild_lives
from shopwarranty.defects.models import Defect, ShopDefectKind
from shopwarranty.jobs.models import PanelMember, Place, ShopField
from shopwarranty.shops.models import Shop
from tests import builders as b
from tests.conftest import ShopPeople

from . import reading
from .bulk import many_jobs

DAY0 = b.days_ago(400)
DOOR = "left-front-door"


def day(age: int) -> date:
    return DAY0 + timedelta(days=age)


@pytest.fixture
def job(ours: ShopPeople) -> Any:
    return b.a_job(handed_over_on=DAY0)


def failures(ours: ShopPeople) -> int:
    rebuild_lives()
    found: int = reading.as_json(ours)["failures"]
    return found


def test_E68_what_could_not_be_found_again_is_in_no_rate(ours: ShopPeople, job: Any) -> None:
    b.looked_at(job, day(14), {"window": 3, "bottom": 3})
    Defect.objects.filter(place__key="window").update(state="not_reproduced", verified=False)
    assert failures(ours) == 1


def test_E69_the_same_defect_seen_twice_is_one_failure(ours: ShopPeople, job: Any) -> None:
    b.looked_at(job, day(14), {"window": 2})
    b.looked_at(job, day(90), {"window": 3}, origin="claim")
    assert Defect.objects.count() == 1
    assert failures(ours) == 1


def test_E70_a_defect_that_comes_back_after_its_remedy_is_a_failure_of_a_new_life(
    ours: ShopPeople, job: Any
) -> None:
    b.looked_at(job, day(14), {"window": 3})
    b.a_remedy(Defect.objects.get(), day(15))
    b.looked_at(job, day(90), {"window": 3})
    assert failures(ours) == 2
    door = reading.line(reading.page(ours), "panel", DOOR)
    assert (door.failures, door.vehicles) == ("2", "1")


def test_E71_an_edge_found_unrecorded_enters_late_and_is_said(ours: ShopPeople, job: Any) -> None:
    b.looked_at(job, day(14))
    Place.objects.filter(key="window").update(added_on=day(14))
    b.looked_at(job, day(90))
    rebuild_lives()
    found = reading.as_json(ours)
    assert found["failures"] == 0
    assert any("under record late" in warning for warning in found["warnings"])
    window = next(g for g in found["groups"]["spot"] if g["level"] == f"{DOOR} / window")
    assert window["edge_days"] == 90 - 14


def test_E72_a_panel_we_did_not_cover_is_drawn_without_film(ours: ShopPeople, job: Any) -> None:
    b.looked_at(job, day(14))
    rebuild_lives()
    drawing = reading.page(ours).context["rates"].drawing
    assert set(drawing.pieces) == {DOOR}
    assert drawing.rest.state == "off"


def test_E73_two_kinds_of_defect_on_one_edge_are_one_failure(ours: ShopPeople, job: Any) -> None:
    visit = b.looked_at(job, day(14), {"window": 3})
    other = Defect.objects.get()
    b.a_sighting(
        Defect.objects.create(
            place=other.place, kind="contamination", kind_words="dust", number="D-x", found_on=day(14)
        ),
        visit.findings.get(place=other.place),
        severity=3,
    )
    assert failures(ours) == 1


def test_E74_a_trace_is_watched_and_fails_on_the_day_it_has_grown(ours: ShopPeople, job: Any) -> None:
    b.looked_at(job, day(14), {"window": 1})
    assert failures(ours) == 0
    b.looked_at(job, day(90), {"window": 3})
    assert failures(ours) == 1
    url = f"/s/{ours.shop.slug}/review/places/?what=failed"
    assert "Clean on day 14, found failing on day 90" in reading.text(ours.client(ours.owner).get(url))


def test_E88_few_data_are_shown_as_counts_without_any_order(ours: ShopPeople, job: Any) -> None:
    b.looked_at(job, day(14), {"window": 3, "bottom": 3})
    rebuild_lives()
    answer = reading.page(ours)
    said = reading.text(answer)
    assert "Too few failures to say which panel fails most." in said
    assert "counts only" in said
    door = reading.line(answer, "panel", DOOR)
    assert (door.failures, door.ratio, door.worst3) == ("2", "", "")
    assert answer.context["rates"].drawing.pieces[DOOR].tag == "2"


def test_E89_without_inspections_there_is_a_dash_and_words_never_a_zero_rate(
    ours: ShopPeople, job: Any
) -> None:
    rebuild_lives()
    answer = reading.page(ours)
    door = reading.line(answer, "panel", DOOR)
    assert door.note == "No inspections yet"
    assert (door.failures, door.rate, [s.text for s in door.shares]) == ("–", "–", ["–", "–", "–"])
    assert "No inspections yet" in reading.text(answer)
    assert answer.context["rates"].drawing.pieces[DOOR].said == "no inspections yet"
    assert "0%" not in reading.text(answer).split("By panel")[1].split("How sure")[0]


def test_E90_a_retired_kind_and_a_retired_field_keep_their_names(ours: ShopPeople, job: Any) -> None:
    ShopDefectKind.objects.create(key="fish-eye", name="fish eye", retired_at=b.NOW)
    visit = b.a_visit(job, day(14), finished=False)
    b.a_defect(visit, b.a_place(job, "window"), "fish-eye", severity=3, kind_words="fish eye")
    visit.state, visit.finished_at = "finished", b.noon(day(14))
    visit.save()
    ShopField.objects.create(key="tape", name="Knifeless tape", level="job", kind="yes_no", retired_at=b.NOW)
    rebuild_lives()
    url = f"/s/{ours.shop.slug}/review/places/?what=failed"
    assert "fish eye" in reading.text(ours.client(ours.owner).get(url))
    assert "Knifeless tape" in reading.text(reading.page(ours))


def test_one_of_one_does_not_top_the_list(ours: ShopPeople) -> None:
    many_jobs(60)
    job = b.a_job(panels=["tailgate"], handed_over_on=DAY0)
    visit = b.a_visit(job, day(14), finished=False)
    b.a_defect(visit, b.places_of(job)[0], severity=4)
    visit.state, visit.finished_at = "finished", b.noon(day(14))
    visit.save()
    rebuild_lives([job.pk])
    answer = reading.page(ours)
    lone = reading.line(answer, "panel", "tailgate")
    assert (lone.failures, lone.watched) == ("1", "1")
    assert lone.few
    assert lone.ratio == ""
    assert reading.table(answer, "panel").lines[0].level != "tailgate"
    assert answer.context["rates"].drawing.pieces["tailgate"].state == "few"


def test_E37_a_panel_that_two_people_did_counts_once_and_with_who_led(ours: ShopPeople) -> None:
    Shop.objects.filter(pk=ours.shop.pk).update(installer_figures=True)
    job = b.a_job(handed_over_on=DAY0, installer=ours.installer)
    PanelMember.objects.create(panel_work=job.panels.get(), member=ours.owner, is_lead=False)
    b.looked_at(job, day(14), {"window": 3})
    assert failures(ours) == 1
    found = reading.as_json(ours)["groups"]["installer"]
    assert {group["level"]: group["failures"] for group in found} == {ours.installer.name: 1}
