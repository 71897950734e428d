"""Work that slips, on page and paper; whose line is shown to whom; the review made on demand."""

from datetime import date
from typing import Any

import pytest

from shopwarranty.review import drift_lines, said
from shopwarranty.review.drifting import DriftOf
from shopwarranty.review.fixing import fix_review
from shopwarranty.review.models import FixedReview
from shopwarranty.review.reviewing import ShopReview
from tests.conftest import NOW, ShopPeople

from . import files, reading
from .bulk import many_jobs

FIRST = date(2026, 1, 5).toordinal()
DAYS = tuple(FIRST + 7 * n for n in range(5))
SLIPPING = DriftOf("", DAYS, (0.0, 1.2, 0.4, 3.1, 5.2), 4.6, date(2026, 2, 2))


@pytest.fixture
def shop(ours: ShopPeople) -> ShopPeople:
    many_jobs(45, [ours.installer])
    return ours


def test_the_sum_of_the_shop_is_drawn_with_its_table_on_page_and_paper(shop: ShopPeople) -> None:
    answer = reading.page(shop)
    (stream,) = answer.context["found"].drift
    row = ["The whole shop", said.count(stream.vehicles), said.fixed(max(stream.path), 1)]
    row += [said.fixed(stream.path[-1], 1), said.fixed(stream.limit, 1)]
    html = files.html_rows(answer.content.decode(), "shares")
    assert row in [cells[:5] for cells in html]
    assert "below the line is not proof" in reading.text(answer)
    assert files.squeezed("".join(row)) in files.pdf_text(files.fetched(shop, "review.pdf"))
    assert reading.page(shop, body="suv").context["drift"] is None


def test_what_is_over_the_line_says_since_when_and_the_lines_of_others_are_not_shown(
    shop: ShopPeople,
) -> None:
    found: Any = reading.page(shop).context["found"]
    words: Any = reading.page(shop).context["words"]
    own = DriftOf("Ada", SLIPPING.days, (0.0,) * 5, 4.0, None)
    parts = {name: getattr(found, name) for name in ShopReview.__dataclass_fields__}
    slipping = ShopReview(**{**parts, "drift": (SLIPPING, own)})
    sheet = drift_lines.drift_sheet(slipping, words, frozenset())
    assert sheet is not None
    assert sheet.heading == "Something may be slipping"
    assert [line.whose for line in sheet.lines] == ["The whole shop"]
    assert "February 2, 2026" in sheet.lines[0].says
    seen = drift_lines.drift_sheet(slipping, words, frozenset({"Ada"}))
    assert seen is not None
    assert [line.whose for line in seen.lines] == ["The whole shop", "Ada"]
    path = "M44 168H44.0V168.0"
    assert path in sheet.drawing, "the first vehicle stands at the left end, on the ground"


def test_the_page_says_from_which_day_its_verdicts_are_and_an_owner_makes_them_anew(
    shop: ShopPeople,
) -> None:
    url = f"/s/{shop.shop.slug}/review/now/"
    assert "Verdicts are made once a month" not in reading.text(reading.page(shop))
    fix_review(shop=shop.shop, now=NOW)
    page = reading.text(reading.page(shop))
    assert "Verdicts are made once a month, last on" in page
    assert "Make the review now" in page
    assert "Make the review now" not in reading.text(reading.page(shop, shop.desk))
    before = FixedReview.objects.count()
    for member in (shop.desk, shop.installer):
        assert shop.client(member).post(url).status_code == 403
    assert shop.client(shop.owner).get(url).status_code == 405
    assert FixedReview.objects.count() == before
    assert shop.client(shop.owner).post(url).status_code == 302
    assert FixedReview.objects.filter(asked_for=True).count() == before
