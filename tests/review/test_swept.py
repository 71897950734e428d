"""What was swept, what was looked at place by place, and how often a sweep missed something."""

from datetime import timedelta
from typing import Any

import pytest

from shopwarranty.analysis.proportions import clopper_pearson
from shopwarranty.defects import actions as defects
from shopwarranty.defects.models import SpotProof
from shopwarranty.inspections import actions as inspections
from shopwarranty.inspections.models import Finding, Visit
from shopwarranty.jobs.models import Place
from shopwarranty.review import said
from shopwarranty.review.swept import looks_of_shop
from shopwarranty.shops.history import Actor
from tests import builders as b
from tests.conftest import ShopPeople

from . import files, reading
from .bulk import many_jobs


@pytest.fixture
def shop(ours: ShopPeople) -> ShopPeople:
    many_jobs(30, [ours.installer])
    return ours


def swept_visit() -> tuple[Visit, list[Finding]]:
    """A check still open, of a job without lives: one place tapped, four swept."""
    job = b.a_job(handed_over_on=b.days_ago(14))
    visit = b.a_visit(job, b.TODAY, finished=False)
    places = list(Place.objects.filter(piece__panel_work__job=job).order_by("pk")[:5])
    rows = [
        Finding(visit=visit, place=place, result="clean", said="swept" if k else "tapped", at=b.NOW, order=k)
        for k, place in enumerate(places)
    ]
    return visit, Finding.objects.bulk_create(rows)


def finished(visit: Visit) -> None:
    Visit.objects.filter(pk=visit.pk).update(state="finished", finished_at=b.NOW)


def checks(ours: ShopPeople, count: int, *, wrong: int = 0, forgone: int = 0) -> None:
    """So many finished checks; one swept place of each was drawn and looked at again. Of the first `wrong` it
    was wrong, of the last `forgone` it was not looked at."""
    hand = Actor.of(ours.installer)
    for n in range(count):
        visit, (_tapped, drawn, *_rest) = swept_visit()
        found = "defect" if n < wrong else "not_shown" if n >= count - forgone else "clean"
        spot = {"visit": visit, "place": drawn.place, "drawn_at": b.NOW, "drawn_from": 4}
        SpotProof.objects.create(**spot, found=found, answered_at=b.NOW)
        if found != "not_shown":
            drawn.result, drawn.said = found, "spot_proved"
            drawn.save()
        if found == "defect":
            defects.see_defect(finding=drawn, kind="edge-lift", severity=2, actor=hand, now=b.NOW)
        finished(visit)


def test_the_share_comes_with_its_counts_and_exact_interval_and_the_paper_says_the_same(
    shop: ShopPeople,
) -> None:
    """24 visits, one place each: Clopper-Pearson (1934) of 2 in 24."""
    checks(shop, 25, wrong=2, forgone=1)
    answer = reading.page(shop)
    sheet = answer.context["swept"]
    limits = clopper_pearson(2, 24)
    share = f"8.3% ({said.percent(limits.low)} to {said.percent(limits.high)})"
    assert sheet.heading == f"About {share} of the places said clean with the rest are wrong"
    drawn, unanswered, how = sheet.sentences
    assert "24 places on 24 visits, 2 of them wrong" in drawn
    assert f"between {said.percent(limits.low)} and {said.percent(limits.high)}" in drawn
    assert unanswered == "One drawn place was not looked at again: unknown, not clean."
    assert "76 places with the rest of their panel, 25 by themselves, 22 drawn and looked at again" in how
    assert sheet.heading in reading.text(answer)
    assert files.squeezed(sheet.heading) in files.pdf_text(files.fetched(shop, "review.pdf"))


def test_below_twenty_visits_it_is_counted_and_no_share_is_told(shop: ShopPeople) -> None:
    checks(shop, 19, wrong=1)
    sheet = reading.page(shop).context["swept"]
    assert sheet.heading == "What a sweep misses cannot be told yet"
    assert "19 places on 19 visits, 1 of them wrong. From 20 visits on" in sheet.sentences[0]
    assert "%" not in sheet.heading + sheet.sentences[0]


def test_none_wrong_is_no_zero(shop: ShopPeople) -> None:
    """0 of 20 looked at again: up to 16.8 % (Newcombe 1998, Stat Med 17:857-872, table I)."""
    checks(shop, 20)
    heading = reading.page(shop).context["swept"].heading
    assert heading == "No sweep was caught missing anything; up to 17% of swept places may still be wrong"


def test_visits_without_a_draw_are_unknown_and_not_clean(shop: ShopPeople) -> None:
    """Swept before places were drawn: nothing is made of them but their count."""
    visit, _findings = swept_visit()
    finished(visit)
    looks = looks_of_shop()
    assert (looks.swept, looks.missed.places, looks.missed.share) == (4, 0, None)
    sheet = reading.page(shop).context["swept"]
    assert sheet.heading == "What a sweep misses cannot be told yet"
    assert "No place drawn at random was looked at again yet" in sheet.sentences[0]


def test_where_nothing_was_swept_or_somebody_explores_nothing_is_said(shop: ShopPeople) -> None:
    assert reading.page(shop).context["swept"] is None
    checks(shop, 3)
    assert reading.page(shop, body="suv").context["swept"] is None


def test_what_a_finished_visit_found_is_in_the_figures_on_the_next_page(ours: ShopPeople) -> None:
    """From the acts themselves, not from rows made up: swept, drawn, one wrong after all."""
    hand = Actor.of(ours.installer)
    job = b.a_job(panels=("left-front-door",), handed_over_on=b.days_ago(14))
    visit = inspections.start_visit(job=job, origin="planned", actor=hand, now=b.NOW, today=b.TODAY)
    inspections.sweep_panel(visit=visit, panel_work=job.panels.get(), now=b.NOW)
    later: Any = b.NOW + timedelta(minutes=5)
    first, second = defects.draw_spots(visit=visit, now=later)
    assert looks_of_shop().swept == 0
    wrong = defects.answer_spot(spot=first, is_clean=False, actor=hand, now=later)
    defects.answer_spot(spot=second, is_clean=True, actor=hand, now=later)
    defects.see_defect(finding=wrong, kind="edge-lift", severity=2, actor=hand, now=later)
    defects.finish_look(visit=visit, actor=hand, now=later)
    looks = looks_of_shop()
    assert (looks.missed.places, looks.missed.wrong, looks.missed.visits) == (2, 1, 1)
    assert (looks.swept, looks.drawn) == (visit.findings.count() - 2, 1)
