"""The review of the demo shop answers what was planted in its story, and claims nothing else."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

import pytest
from django.db import transaction

from shopwarranty.analysis.results import Effect
from shopwarranty.analysis.verdicts import ATTENDANCE_LINE, CLAIM_AT, Phrase
from shopwarranty.demo.fate import BAD_LOT, BAD_LOT_FILM
from shopwarranty.demo.writing.everything import write_past
from shopwarranty.review.attending import attendance_of
from shopwarranty.review.lives import LifeTable, load
from shopwarranty.review.reviewing import ShopReview, largest_family, work_out
from shopwarranty.review.selection import Part, Selection, families
from shopwarranty.shops.models import Shop
from shopwarranty.shops.scope import shop_scope

from .conftest import TODAY, Demo

OTHER_DAYS = (date(2027, 7, 4), date(2028, 2, 29))
COLOR = "colour-change"


@dataclass(frozen=True, slots=True)
class Answers:
    table: LifeTable
    attendance: float | None

    def of(self, family: str, part: Part = Part.ENDS) -> ShopReview:
        return work_out(self.table, Selection(family, part), self.attendance)


@pytest.fixture(params=(TODAY, *OTHER_DAYS), ids=str)
def answers(
    request: pytest.FixtureRequest, loaded: Demo, db: None, django_db_blocker: Any
) -> Iterator[Answers]:
    """Of the shop as it was loaded, and of its past told for other days."""
    if request.param == TODAY:
        demo: Demo = request.getfixturevalue("demo")
        yield Answers(load(demo.shop), attendance_of())
        return
    request.getfixturevalue("django_db_setup")
    with django_db_blocker.unblock(), transaction.atomic():
        Shop.objects.filter(slug="demo").update(slug="kept-for-others")
        written, _story = write_past(request.param)
        with shop_scope(written.shop):
            yield Answers(load(written.shop), attendance_of())
        transaction.set_rollback(True)


def effect(review: ShopReview, factor: str, level: str) -> Effect:
    return next(e for e in review.review.effects if (e.contrast.factor, e.contrast.level) == (factor, level))


def test_what_was_planted_is_answered_and_nothing_else_is_claimed(answers: Answers) -> None:
    assert largest_family(answers.table) == COLOR
    review = answers.of(COLOR)
    the_clear_one_is_claimed(review)
    the_unclear_one_cannot_be_told_yet(review)
    the_pair_cannot_be_told_apart(review)
    the_lucky_panel_does_not_top_the_list(review)
    the_bad_lot_is_noticed_and_no_other(review)
    nothing_else_is_claimed(answers)
    assert answers.attendance is not None and answers.attendance > ATTENDANCE_LINE


def the_clear_one_is_claimed(review: ShopReview) -> None:
    """Places, above all recesses, that were not heated after cutting let go several times as often."""
    found = effect(review, "post_heated", "no")
    assert found.verdict.phrase is Phrase.MORE
    assert found.q <= CLAIM_AT and found.holm <= CLAIM_AT
    assert found.contrast.ratio > 3 and not found.depends_on_callbacks
    assert [e.contrast.factor for e in review.review.headline] == ["post_heated"]


def the_unclear_one_cannot_be_told_yet(review: ShopReview) -> None:
    found = effect(review, "blade_fresh", "no")
    assert found.verdict.phrase is Phrase.NOT_YET
    assert found.contrast.ratio > 1.15 and found.contrast.p > 0.05
    assert found.more_edges is not None and found.more_edges > 1000


def the_pair_cannot_be_told_apart(review: ShopReview) -> None:
    squeegee, clay = effect(review, "squeegee", "hard"), effect(review, "decontaminated", "no")
    assert squeegee.verdict.words == "cannot be told apart from decontaminated"
    assert clay.verdict.words == "cannot be told apart from squeegee"
    assert squeegee.contrast.ratio > 1.2


def the_lucky_panel_does_not_top_the_list(review: ShopReview) -> None:
    """Rails were covered on two vehicles, and the left one of each lifted early."""
    panels = review.table("panel")
    by_rate = sorted(panels, key=lambda figure: -(figure.rate or 0))
    assert by_rate[0].level == "left-rail"
    assert panels[0].level == "front-bumper"
    rail = next(figure for figure in panels if figure.level == by_rate[0].level)
    assert panels[0].shrunken is not None and rail.shrunken is not None
    assert rail.shrunken < panels[0].shrunken
    assert rail.shrunken_interval is not None and rail.shrunken_interval.low < 1


def the_bad_lot_is_noticed_and_no_other(review: ShopReview) -> None:
    noticed = [number for number, figure in review.lots.items() if figure.alert]
    assert len(noticed) == 1 and noticed[0].startswith("CG")
    assert (BAD_LOT_FILM, BAD_LOT) == ("chroma-gloss", 2)


def nothing_else_is_claimed(answers: Answers) -> None:
    claimed = [
        (family, part, e.contrast.factor)
        for family in families(answers.table)
        for part in Part
        for e in answers.of(family, part).review.effects
        if e.verdict.claimed
    ]
    assert claimed == [(COLOR, Part.ENDS, "post_heated")]
