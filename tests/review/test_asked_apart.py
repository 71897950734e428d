"""What two readers ask for apart is worked out and kept apart."""

from django.urls import reverse

from shopwarranty.defects.lives import rebuild_lives
from tests import builders
from tests.conftest import ShopPeople


def test_from_a_day_on_and_up_to_that_day_are_two_questions(ours: ShopPeople) -> None:
    for days in (100, 20, 10):
        job = builders.a_job(handed_over_on=builders.days_ago(days))
        builders.a_finding(builders.a_visit(job), builders.places_of(job)[0])
    rebuild_lives()
    client, url = ours.client(ours.owner), reverse("review", args=[ours.shop.slug])
    day = builders.days_ago(50).isoformat()
    rows = [len(client.get(url, {end: day}).context["page"].found.asked.rows) for end in ("since", "until")]
    assert rows[0] == 2 * rows[1] > 0
