"""Before and after: a day on record gets a verdict, a day somebody picked an estimate only."""

from datetime import UTC, datetime, timedelta

import pytest

from shopwarranty.analysis.before_after import before_after
from shopwarranty.jobs.actions import add_usual_method
from shopwarranty.jobs.models import MethodVersion
from shopwarranty.review import said
from shopwarranty.review.asking import ADJUSTED
from shopwarranty.review.change_lines import TOLD
from shopwarranty.shops.history import Actor
from tests import builders as b
from tests.conftest import ShopPeople

from . import files, reading
from .bulk import many_jobs

CHANGED = b.TODAY - timedelta(days=450)
PAGE = "review/change/"


@pytest.fixture
def shop(ours: ShopPeople) -> ShopPeople:
    many_jobs(24, [ours.installer])
    return ours


def test_a_picked_day_gives_the_estimate_of_the_statistics_and_no_verdict(shop: ShopPeople) -> None:
    answer = shop.client(shop.installer).get(f"/s/{shop.shop.slug}/{PAGE}", {"on": CHANGED.isoformat()})
    page = reading.page(shop)
    asked, table = page.context["found"].asked, page.context["page"].table
    lives, starts = asked.question.lives, table.starts[asked.rows]
    found = before_after(lives, starts, CHANGED.toordinal(), asked.question.named(ADJUSTED))
    assert found.change is not None
    words = reading.text(answer)
    assert "Exploring:" in words
    assert f"about {said.about(found.change.ratio)} times as often as before" in words
    low, high = found.change.interval()
    assert f"95% interval {said.times(low)} to {said.times(high)}" in words
    assert not [text for text in TOLD.values() if str(text) in words]
    since = [
        "Since",
        said.count(found.change.failures),
        said.count(found.change.edges),
        said.years(found.edge_days[1]),
        said.count(found.oldest[1]),
    ]
    assert since in files.html_rows(answer.content.decode(), "shares")


def test_a_day_on_which_a_method_changed_on_record_gets_its_verdict(shop: ShopPeople) -> None:
    first = add_usual_method(actor=Actor.of(shop.owner), now=b.NOW)
    noon = datetime(CHANGED.year, CHANGED.month, CHANGED.day, 17, tzinfo=UTC)
    MethodVersion.objects.create(method=first.method, number=2, values=first.values, valid_from=noon)
    client = shop.client(shop.owner)
    offered = client.get(f"/s/{shop.shop.slug}/{PAGE}")
    assert f"?on={CHANGED.isoformat()}" in reading.text(offered)
    answer = client.get(f"/s/{shop.shop.slug}/{PAGE}", {"on": CHANGED.isoformat()})
    assert answer.context["change"].recorded
    assert answer.context["change"].heading in [str(text) for text in TOLD.values()]
    narrowed = client.get(f"/s/{shop.shop.slug}/{PAGE}", {"on": CHANGED.isoformat(), "body": "suv"})
    assert not narrowed.context["change"].recorded


def test_a_day_that_cannot_be_read_or_before_everything_is_answered_in_words(shop: ShopPeople) -> None:
    client = shop.client(shop.desk)
    wrong = client.get(f"/s/{shop.shop.slug}/{PAGE}", {"on": "soon"})
    assert wrong.status_code == 200
    assert "soon" in reading.text(wrong)
    early = client.get(f"/s/{shop.shop.slug}/{PAGE}", {"on": "1999-01-01"})
    assert "Nothing to hold against each other" in reading.text(early)


def test_an_empty_shop_is_told_so(ours: ShopPeople) -> None:
    answer = ours.client(ours.owner).get(f"/s/{ours.shop.slug}/{PAGE}", {"on": "2026-01-01"})
    assert "No places are being watched yet." in reading.text(answer)
