"""A press on a panel of an open visit is taken back as a whole: each place says again what it said before."""

from typing import Any

import pytest

from shopwarranty.defects.models import Defect, Sighting
from shopwarranty.inspections.models import Visit
from shopwarranty.jobs.models import Place
from tests import builders as b

from .test_pages import WRONG, answers, started, text_of, told
from .test_pages import job as job
from .test_pages import now as now
from .test_pages import page as page


@pytest.fixture
def visit(page: Any, job: Any) -> Visit:
    return started(page, job)[0]


@pytest.fixture
def door(job: Any) -> Any:
    return job.panels.get(panel="left-front-door")


@pytest.fixture
def window(job: Any) -> Place:
    return b.a_place(job, "window", "left-front-door")


def at(visit: Visit, door: Any) -> str:
    return f"visits/{visit.pk}/panels/{door.pk}/"


def undone(page: Any, visit: Visit, door: Any) -> str:
    return text_of(page(f"{at(visit, door)}undo/", {}, follow=True))


def test_what_was_tapped_is_offered_to_be_taken_back_and_nothing_stays_said(
    page: Any, visit: Visit, door: Any, window: Place
) -> None:
    answer = page(at(visit, door), {**answers(window, "defect", **WRONG), "act": "next"}, follow=True)
    assert "Left front door: one place written down." in text_of(answer)
    assert f"/s/kiln/{at(visit, door)}undo/" in answer.content.decode()
    assert "Taken back: this panel says what it said before." in undone(page, visit, door)
    assert told(visit) == {}
    assert not Defect.objects.exists()


def test_a_press_that_taps_and_sweeps_is_taken_back_with_both(
    page: Any, visit: Visit, door: Any, window: Place
) -> None:
    page(at(visit, door), {**answers(window, "defect", **WRONG), "act": "sweep"})
    assert len(told(visit)) > 1
    undone(page, visit, door)
    assert told(visit) == {}


def test_what_was_said_by_an_earlier_press_is_said_again_as_it_was(
    page: Any, visit: Visit, door: Any, window: Place
) -> None:
    page(at(visit, door), {**answers(window, "defect", **WRONG), "act": "sweep"})
    before, seen = told(visit), seen_at(window)
    version = visit.findings.get(place=window).version
    sent = {**answers(window, "clean"), f"p{window.pk}-was": str(version), "act": "next"}
    page(at(visit, door), sent)
    assert told(visit)["left-front-door window"] == ("clean", "tapped")
    undone(page, visit, door)
    assert told(visit) == before
    assert seen_at(window) == seen == [("edge-lift", 2, 12.7)]


def seen_at(place: Place) -> list[tuple[str, int, float | None]]:
    rows = Sighting.objects.filter(finding__place=place, defect__state="open")
    return list(rows.values_list("defect__kind", "severity", "extent_mm"))


def test_a_swept_place_that_was_tapped_wrong_is_swept_again(
    page: Any, visit: Visit, door: Any, window: Place
) -> None:
    page(at(visit, door), {"act": "sweep"})
    version = visit.findings.get(place=window).version
    page(
        at(visit, door),
        {**answers(window, "defect", **WRONG), f"p{window.pk}-was": str(version), "act": "next"},
    )
    undone(page, visit, door)
    assert set(told(visit).values()) == {("clean", "swept")}


def test_what_somebody_said_since_stays(page: Any, visit: Visit, door: Any, window: Place) -> None:
    page(at(visit, door), {**answers(window, "clean"), "act": "next"})
    row = visit.findings.get(place=window)
    visit.findings.filter(pk=row.pk).update(result="not_looked", version=row.version + 1)
    assert "something else was said there meanwhile" in undone(page, visit, door)
    assert told(visit)["left-front-door window"] == ("not_looked", "tapped")


def test_taken_back_twice_it_is_taken_back_once(page: Any, visit: Visit, door: Any, window: Place) -> None:
    bumper = Place.objects.filter(piece__panel_work__panel="front-bumper")[0]
    page(at(visit, bumper.piece.panel_work), {**answers(bumper, "clean"), "act": "next"})
    page(at(visit, door), {**answers(window, "clean"), "act": "next"})
    for _time in range(2):
        undone(page, visit, door)
    assert told(visit) == {f"front-bumper {bumper.key}": ("clean", "tapped")}


def test_after_the_visit_nothing_is_taken_back(page: Any, visit: Visit, door: Any, window: Place) -> None:
    page(at(visit, door), {**answers(window, "clean"), "act": "next"})
    page(f"visits/{visit.pk}/finish/", {"note": ""})
    page(f"{at(visit, door)}undo/", {})
    assert told(visit)["left-front-door window"] == ("clean", "tapped")


def test_next_without_an_answer_says_nothing_and_offers_nothing(page: Any, visit: Visit, door: Any) -> None:
    answer = page(at(visit, door), {"act": "next"}, follow=True)
    assert "undo/" not in answer.content.decode()
